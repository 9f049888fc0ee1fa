using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using Org.BouncyCastle.Crypto;

namespace MeshTrace.Protocol.Tests.Security;

/// <summary>How many AES blocks a Network PDU costs: counted, because time is no test.</summary>
public class AesBlockCountTests
{
    /// <summary>
    /// Mesh Protocol 1.1 §8.3.6, message #6, segment 0. One block of the obfuscation (§3.9.7); of CCM (RFC 3610) B_0, two blocks of the 18 octets for the MAC, two for
    /// the octets, and one for the MIC.
    /// </summary>
    [Fact]
    public void LongPdu_TakesSevenBlocks()
    {
        int privacy = 0, encryption = 0;
        var credentials = new NetworkCredentials(CredentialsKind.Flooding, 0x68,
            new AesKey(Convert.FromHexString("0953fa93e7caac9638f58820220a398e"), new CountingCipher(() => encryption++)),
            new AesKey(Convert.FromHexString("8b84eedec100067d670971dd2aa700cf"), new CountingCipher(() => privacy++)));
        byte[] pdu = Convert.FromHexString("68cab5c5348a230afba8c63d4e686364979deaf4fd40961145939cda0e");
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        (privacy, encryption) = (0, 0);
        Assert.True(NetworkSecurity.TryDecrypt(pdu, credentials, 0x12345678, clear, out _));
        Assert.Equal((1, 6), (privacy, encryption));
    }

    /// <summary>BouncyCastle's engine, told of each block.</summary>
    private sealed class CountingCipher(Action count) : IBlockCipher
    {
        private readonly IBlockCipher _engine = AesUtilities.CreateEngine();

        public string AlgorithmName => _engine.AlgorithmName;
        public int GetBlockSize() => _engine.GetBlockSize();
        public void Init(bool forEncryption, ICipherParameters parameters) => _engine.Init(forEncryption, parameters);

        public int ProcessBlock(byte[] inBuf, int inOff, byte[] outBuf, int outOff)
        {
            count();
            return _engine.ProcessBlock(inBuf, inOff, outBuf, outOff);
        }

        public int ProcessBlock(ReadOnlySpan<byte> input, Span<byte> output)
        {
            count();
            return _engine.ProcessBlock(input, output);
        }
    }
}
