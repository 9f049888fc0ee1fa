using CsCheck;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Security;
using MeshTrace.Protocol.Tests.Vectors;
using Org.BouncyCastle.Crypto.Engines;
using Org.BouncyCastle.Crypto.Modes;
using Org.BouncyCastle.Crypto.Parameters;

namespace MeshTrace.Protocol.Tests.Network;

/// <summary>
/// Network PDUs of every length, against a plain composition over BouncyCastle; wrong keys, wrong IV index, octets that are none.
/// </summary>
public class NetworkSecurityTests
{
    public static TheoryData<string> Paths => AesPaths.Names;

    private static readonly Gen<byte[]> Key = Gen.Byte.Array[16];

    /// <summary>What a sender chooses. The TransportPDU is as long as the format allows, down to one octet.</summary>
    private static readonly Gen<(byte[] EncryptionKey, byte[] PrivacyKey, uint IvIndex, bool Ctl, byte Ttl, uint Seq, (ushort Src, ushort Dst) Addresses, byte[] TransportPdu)>
        Pdus = Gen.Bool.SelectMany(ctl => Gen.Select(Key, Key, Gen.UInt, Gen.Const(ctl), Gen.Byte[0, 127], Gen.UInt[0, 0xFFFFFF],
            Gen.Select(Gen.UShort, Gen.UShort), Gen.Byte.Array[1, ctl ? 12 : 16]));

    [Theory, MemberData(nameof(Paths))]
    public void RoundTrip_AndAgreesWithAPlainComposition(string path) => Pdus.Sample(given =>
    {
        NetworkCredentials credentials = Credentials(path, given.EncryptionKey, given.PrivacyKey);
        byte[] clear = new byte[NetworkSecurity.LongestPdu], pdu = new byte[NetworkSecurity.LongestPdu];
        int clearLength = NetworkSecurity.Write(clear, given.IvIndex, credentials.Nid, given.Ctl, given.Ttl, given.Seq,
            new MeshAddress(given.Addresses.Src), new MeshAddress(given.Addresses.Dst), given.TransportPdu);
        int length = NetworkSecurity.Encrypt(clear.AsSpan(0, clearLength), credentials, given.IvIndex, pdu);
        Assert.Equal(PlainlyComposed(clear[..clearLength], given.EncryptionKey, given.PrivacyKey, given.IvIndex), pdu[..length]);

        // Into a buffer that is just long enough, with other octets beside it that must stay.
        byte[] buffer = Enumerable.Repeat((byte)0xA5, length + 2).ToArray();
        Assert.True(NetworkSecurity.TryDecrypt(pdu.AsSpan(0, length), credentials, given.IvIndex, buffer.AsSpan(1, length), out int opened));
        Assert.Equal(clear[..clearLength], buffer[1..(1 + opened)]);
        Assert.Equal([0xA5, 0xA5], [buffer[0], buffer[^1]]);
    }, iter: 2000);

    [Theory, MemberData(nameof(Paths))]
    public void OneBitWrongAnywhere_IsRefused(string path) => Gen.Select(Pdus, Gen.Int[0, 29 * 8]).Sample((given, bit) =>
    {
        NetworkCredentials credentials = Credentials(path, given.EncryptionKey, given.PrivacyKey);
        byte[] clear = new byte[NetworkSecurity.LongestPdu], pdu = new byte[NetworkSecurity.LongestPdu];
        int length = NetworkSecurity.Write(clear, given.IvIndex, credentials.Nid, given.Ctl, given.Ttl, given.Seq,
            new MeshAddress(given.Addresses.Src), new MeshAddress(given.Addresses.Dst), given.TransportPdu);
        length = NetworkSecurity.Encrypt(clear.AsSpan(0, length), credentials, given.IvIndex, pdu);
        byte[] buffer = Enumerable.Repeat((byte)0xA5, length).ToArray();
        int octet = 1 + (bit / 8 % (length - 1));   // the first octet, IVI and NID, is not authenticated: it selects key and IV index
        pdu[octet] ^= (byte)(1 << (bit % 8));
        Assert.False(NetworkSecurity.TryDecrypt(pdu.AsSpan(0, length), credentials, given.IvIndex, buffer, out int opened));
        Assert.Equal(0, opened);
        Assert.All(buffer, b => Assert.Equal(0xA5, b));
    }, iter: 2000);

    [Theory, MemberData(nameof(Paths))]
    public void RandomOctets_OfAnyLength_AreRefusedNotThrown(string path)
    {
        NetworkCredentials credentials = Credentials(path, new byte[16], new byte[16]);
        Gen.Select(Gen.Byte.Array[0, 64], Gen.UInt).Sample((octets, ivIndex) =>
        {
            byte[] buffer = new byte[64];
            Assert.False(NetworkSecurity.TryDecrypt(octets, credentials, ivIndex, buffer, out _));
            Assert.False(NetworkSecurity.TryDecryptProxyConfiguration(octets, credentials, ivIndex, buffer, out _));
            Assert.False(NetworkSecurity.TryDecryptSolicitation(octets, credentials, buffer, out _));
        }, iter: 3000);
    }

    [Fact]
    public void BadBytes_EveryTruncationOfASample_IsRefused()
    {
        foreach (string id in (string[])["8.3.1", "8.3.6", "8.3.7", "8.3.22"])
        {
            Vector vector = VectorFile.SampleData[id];
            byte[] pdu = vector.Outputs.GetProperty("pdus")[0].Octets("network_pdu"), buffer = new byte[32];
            NetworkCredentials credentials = MessageVector.Credentials(vector)[0];
            for (int length = 0; length < pdu.Length; length++)
            {
                Assert.False(NetworkSecurity.TryDecrypt(pdu.AsSpan(0, length), credentials, vector.Inputs.Hex("iv_index"), buffer, out _));
                Assert.Equal(length >= NetworkPdu.ShortestLength, NetworkPdu.TryRead(pdu.AsSpan(0, length), out _, out DecodeProblem problem));
                if (problem.IsProblem)
                    Assert.Equal((ProblemKind.TooShort, Layer.Network, NetworkPdu.ShortestLength, length), (problem.Kind, problem.Layer, problem.Needed, problem.Had));
            }
            Assert.False(NetworkPdu.TryRead(new byte[30], out _, out DecodeProblem tooLong));
            Assert.Equal(ProblemKind.TooLong, tooLong.Kind);
        }
    }

    [Fact]
    public void OtherIvIndexOrOtherCredentials_AreRefused()
    {
        Vector vector = VectorFile.SampleData["8.3.1"];
        byte[] pdu = vector.Outputs.GetProperty("pdus")[0].Octets("network_pdu"), buffer = new byte[32];
        NetKeyMaterial network = new(vector.In("net_key"));
        uint ivIndex = vector.Inputs.Hex("iv_index");
        Assert.True(NetworkSecurity.TryDecrypt(pdu, network.Flooding, ivIndex, buffer, out _));
        Assert.False(NetworkSecurity.TryDecrypt(pdu, network.Flooding, ivIndex - 1, buffer, out _));
        Assert.False(NetworkSecurity.TryDecrypt(pdu, network.Flooding, ivIndex + 2, buffer, out _));
        Assert.False(NetworkSecurity.TryDecrypt(pdu, network.Directed, ivIndex, buffer, out _));
    }

    [Fact]
    public void Decryption_AllocatesNothing_GoodOrBad()
    {
        Vector vector = VectorFile.SampleData["8.3.6"];
        byte[] pdu = vector.Outputs.GetProperty("pdus")[0].Octets("network_pdu"), bad = [.. pdu], buffer = new byte[32];
        bad[^1] ^= 1;
        NetworkCredentials credentials = NetworkCredentials.Flooding(vector.In("net_key"));
        uint ivIndex = vector.Inputs.Hex("iv_index");
        bool good = NetworkSecurity.TryDecrypt(pdu, credentials, ivIndex, buffer, out _), wrong = false;
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 1000; i++)
        {
            good &= NetworkSecurity.TryDecrypt(pdu, credentials, ivIndex, buffer, out _);
            wrong |= NetworkSecurity.TryDecrypt(bad, credentials, ivIndex, buffer, out _);
        }
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
        Assert.True(good);
        Assert.False(wrong);
    }

    [Fact]
    public void CallersMistakes_AreExceptions()
    {
        NetworkCredentials credentials = NetworkCredentials.Flooding(new byte[16]);
        byte[] pdu = new byte[20], small = new byte[19], clear = new byte[26];
        Assert.Throws<ArgumentException>(() => NetworkSecurity.TryDecrypt(pdu, credentials, 0, small, out _));
        Assert.Throws<ArgumentException>(() => NetworkSecurity.Encrypt(clear.AsSpan(0, 8), credentials, 0, pdu));
        Assert.Throws<ArgumentException>(() => NetworkSecurity.Encrypt(clear, credentials, 0, new byte[40]));
        Assert.Throws<ArgumentOutOfRangeException>(() => NetworkSecurity.Write(clear, 0, 0x80, false, 0, 0, default, default, []));
        Assert.Throws<ArgumentOutOfRangeException>(() => NetworkSecurity.Write(clear, 0, 0, false, 0x80, 0, default, default, []));
        Assert.Throws<ArgumentOutOfRangeException>(() => NetworkSecurity.Write(clear, 0, 0, false, 0, 0x1000000, default, default, []));
    }

    private static NetworkCredentials Credentials(string path, byte[] encryptionKey, byte[] privacyKey) =>
        new(CredentialsKind.Flooding, 0x68, AesPaths.Key(path, encryptionKey), AesPaths.Key(path, privacyKey));

    /// <summary>§3.9.7 word by word, over BouncyCastle's CCM and AES, sharing nothing with our code.</summary>
    private static byte[] PlainlyComposed(byte[] clear, byte[] encryptionKey, byte[] privacyKey, uint ivIndex)
    {
        byte[] iv = [(byte)(ivIndex >> 24), (byte)((ivIndex >> 16) & 0xFF), (byte)((ivIndex >> 8) & 0xFF), (byte)(ivIndex & 0xFF)];
        byte[] nonce = [0x00, .. clear[1..7], 0x00, 0x00, .. iv];
        var ccm = new CcmBlockCipher(new AesEngine());
        ccm.Init(forEncryption: true, new AeadParameters(new KeyParameter(encryptionKey), (clear[1] & 0x80) != 0 ? 64 : 32, nonce));
        byte[] encrypted = new byte[ccm.GetOutputSize(clear.Length - 7)];
        int length = ccm.ProcessBytes(clear, 7, clear.Length - 7, encrypted, 0);
        ccm.DoFinal(encrypted, length);

        byte[] privacy = [0, 0, 0, 0, 0, .. iv, .. encrypted[..7]];
        var aes = new AesEngine();
        aes.Init(forEncryption: true, new KeyParameter(privacyKey));
        aes.ProcessBlock(privacy, 0, privacy, 0);
        return [clear[0], .. clear[1..7].Select((octet, i) => (byte)(octet ^ privacy[i])), .. encrypted];
    }
}
