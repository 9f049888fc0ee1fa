using BenchmarkDotNet.Attributes;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using Org.BouncyCastle.Crypto;
using Org.BouncyCastle.Crypto.Modes;
using Org.BouncyCastle.Crypto.Parameters;
using DotNetAesCcm = System.Security.Cryptography.AesCcm;

namespace MeshTrace.Benchmarks;

/// <summary>
/// Opening one Network PDU, that is, one block of the obfuscation and CCM with a MIC of 4 octets over DST and TransportPDU. The long PDU is
/// segment 0 of Mesh Protocol 1.1 §8.3.6 (18 octets under CCM), the short one that of §8.3.22 (15 octets).
/// </summary>
/// <remarks>Read the figures as ratios within one run. <see cref="FourChainedBlocks"/> is what the dependencies of the long PDU cost at least.</remarks>
[MemoryDiagnoser, MinColumn]
public class NetworkPduBenchmarks : IDisposable
{
    private static readonly byte[] EncryptionKey = Convert.FromHexString("0953fa93e7caac9638f58820220a398e");
    private static readonly byte[] PrivacyKey = Convert.FromHexString("8b84eedec100067d670971dd2aa700cf");

    private readonly NetworkCredentials _processor = NetworkCredentials.Flooding(Convert.FromHexString("7dd7364cd842ad18c17c2b820c84c3d6"));
    private readonly NetworkCredentials _bouncyCastle = new(CredentialsKind.Flooding, 0x68,
        new AesKey(EncryptionKey, AesUtilities.CreateEngine()), new AesKey(PrivacyKey, AesUtilities.CreateEngine()));
    private readonly IBlockCipher _privacyEngine = AesUtilities.CreateEngine();
    private readonly KeyParameter _encryptionKeyParameter = new(EncryptionKey);
    private readonly CcmBlockCipher _ccm = new(AesUtilities.CreateEngine());
    private readonly DotNetAesCcm _dotNet = new(EncryptionKey);
    private readonly byte[] _clear = new byte[32], _nonce = new byte[13], _block = new byte[16], _wrong = new byte[29];
    private byte[] _pdu = [];
    private uint _ivIndex;

    [Params("long", "short")]
    public string Pdu { get; set; } = "long";

    [GlobalSetup]
    public void Prepare()
    {
        (string hex, _ivIndex) = Pdu == "long"
            ? ("68cab5c5348a230afba8c63d4e686364979deaf4fd40961145939cda0e", 0x12345678u)
            : ("e8d85caecef1e3ed31f3fdcf88a411135fea55df730b6b28e255", 0x12345677u);
        _pdu = Convert.FromHexString(hex);
        _privacyEngine.Init(forEncryption: true, new KeyParameter(PrivacyKey));
        Convert.FromHexString("68cab5c5348a230afba8c63d4e686364979deaf4fd40961145939cda0f").CopyTo(_wrong, 0);
        if (!Processor() || !OverBouncyCastlesEngine() || !PlainCcmBlockCipher() || !DotNetCcm() || WrongKey())
            throw new InvalidOperationException("One of the ways does not open the PDU.");
    }

    [Benchmark]
    public bool Processor() => NetworkSecurity.TryDecrypt(_pdu, _processor, _ivIndex, _clear, out _);

    [Benchmark]
    public bool WrongKey() => NetworkSecurity.TryDecrypt(_wrong, _processor, 0x12345678u, _clear, out _);

    [Benchmark]
    public bool OverBouncyCastlesEngine() => NetworkSecurity.TryDecrypt(_pdu, _bouncyCastle, _ivIndex, _clear, out _);

    /// <summary>BouncyCastle as its documentation shows it: parameters, Init, ProcessBytes, DoFinal; on its engine with AES instructions.</summary>
    [Benchmark(Baseline = true)]
    public bool PlainCcmBlockCipher()
    {
        Deobfuscate();
        _ccm.Init(forEncryption: false, new AeadParameters(_encryptionKeyParameter, 32, _nonce));
        int length = _ccm.ProcessBytes(_pdu, 7, _pdu.Length - 7, _clear, 7);
        _ccm.DoFinal(_clear, 7 + length);
        return true;   // a wrong MIC would have thrown
    }

    [Benchmark]
    public bool DotNetCcm()
    {
        Deobfuscate();
        _dotNet.Decrypt(_nonce, _pdu.AsSpan(7..^4), _pdu.AsSpan(^4..), _clear.AsSpan(7, _pdu.Length - 11));
        return true;   // a wrong MIC would have thrown
    }

    /// <summary>Each block waits for the one before: obfuscation, then B_0 with the counter blocks, then the two blocks of the MAC.</summary>
    [Benchmark]
    public byte FourChainedBlocks()
    {
        AesKey privacy = _processor.PrivacyKey, encryption = _processor.EncryptionKey;
        var block = System.Runtime.Intrinsics.Vector128.Create(_block);
        block = encryption.Encrypt(encryption.Encrypt(encryption.Encrypt(privacy.Encrypt(block))));
        return block[0];
    }

    public void Dispose()
    {
        _dotNet.Dispose();
        GC.SuppressFinalize(this);
    }

    private void Deobfuscate()
    {
        _block.AsSpan().Clear();
        System.Buffers.Binary.BinaryPrimitives.WriteUInt32BigEndian(_block.AsSpan(5), _ivIndex);
        _pdu.AsSpan(7, 7).CopyTo(_block.AsSpan(9));
        _privacyEngine.ProcessBlock(_block, 0, _block, 0);
        _clear[0] = _pdu[0];
        for (int i = 0; i < 6; i++)
            _nonce[1 + i] = _clear[1 + i] = (byte)(_pdu[1 + i] ^ _block[i]);
        System.Buffers.Binary.BinaryPrimitives.WriteUInt32BigEndian(_nonce.AsSpan(9), _ivIndex);
    }
}
