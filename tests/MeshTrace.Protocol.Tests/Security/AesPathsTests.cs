using CsCheck;
using MeshTrace.Protocol.Security;
using Org.BouncyCastle.Crypto.Engines;
using Org.BouncyCastle.Crypto.Macs;
using Org.BouncyCastle.Crypto.Modes;
using Org.BouncyCastle.Crypto.Parameters;

namespace MeshTrace.Protocol.Tests.Security;

/// <summary>
/// Our AES paths against each other and against implementations that are not ours: BouncyCastle's CCM and CMAC, .NET's AesCcm and Aes.
/// </summary>
public class AesPathsTests
{
    private static readonly Gen<byte[]> Key = Gen.Byte.Array[16];

    public static TheoryData<string> Paths => AesPaths.Names;

    [Fact]
    public void ProcessorPathIsTestedWhereTheProcessorHasAes() =>
        Assert.Equal(System.Runtime.Intrinsics.X86.Aes.IsSupported || System.Runtime.Intrinsics.Arm.Aes.IsSupported, new AesKey(new byte[16]).IsProcessorPath);

    [Theory, MemberData(nameof(Paths))]
    public void Block_AgreesWithDotNet(string path) => Gen.Select(Key, Gen.Byte.Array[16]).Sample((key, block) =>
    {
        byte[] ours = new byte[16];
        AesPaths.Key(path, key).Encrypt(block, ours);
        using var aes = System.Security.Cryptography.Aes.Create();
        aes.Key = key;
        return ours.AsSpan().SequenceEqual(aes.EncryptEcb(block, System.Security.Cryptography.PaddingMode.None));
    }, iter: 500);

    [Theory, MemberData(nameof(Paths))]
    public void Cmac_AgreesWithBouncyCastle(string path) => Gen.Select(Key, Gen.Byte.Array[0, 80]).Sample((key, message) =>
    {
        byte[] ours = new byte[16], theirs = new byte[16];
        AesCmac.Compute(AesPaths.Key(path, key), message, ours);
        var mac = new CMac(new AesEngine());
        mac.Init(new KeyParameter(key));
        mac.BlockUpdate(message, 0, message.Length);
        mac.DoFinal(theirs, 0);
        return ours.AsSpan().SequenceEqual(theirs);
    }, iter: 500);

    [Theory, MemberData(nameof(Paths))]
    public void Ccm_AgreesWithBouncyCastleAndDotNet(string path) =>
        Gen.Select(Key, Gen.Byte.Array[13], Gen.Byte.Array[0, 100], Gen.Byte.Array[0, 40], Gen.Bool).Sample((key, nonce, plain, additional, longMic) =>
        {
            int micLength = longMic ? 8 : 4;
            byte[] ours = new byte[plain.Length + micLength], opened = new byte[plain.Length];
            AesKey aesKey = AesPaths.Key(path, key);
            AesCcm.Encrypt(aesKey, nonce, plain, micLength, additional, ours);
            Assert.Equal(ByBouncyCastle(key, nonce, plain, micLength, additional), ours);
            Assert.Equal(ByDotNet(key, nonce, plain, micLength, additional), ours);
            Assert.True(AesCcm.TryDecrypt(aesKey, nonce, ours, micLength, additional, opened));
            Assert.Equal(plain, opened);
        }, iter: 500);

    [Theory, MemberData(nameof(Paths))]
    public void Ccm_OneBitWrongAnywhere_IsRefusedAndZeroed(string path) =>
        Gen.Select(Key, Gen.Byte.Array[13], Gen.Byte.Array[1, 60], Gen.Byte.Array[1, 16], Gen.Int[0, 8 * 100]).Sample((key, nonce, plain, additional, bit) =>
        {
            byte[] cipher = new byte[plain.Length + 4], opened = Enumerable.Repeat((byte)0xA5, plain.Length).ToArray();
            AesKey aesKey = AesPaths.Key(path, key);
            AesCcm.Encrypt(aesKey, nonce, plain, 4, additional, cipher);
            byte[][] parts = [cipher, nonce, additional];
            byte[] part = parts[bit % 3];
            part[bit / 8 % part.Length] ^= (byte)(1 << (bit % 8));
            Assert.False(AesCcm.TryDecrypt(aesKey, nonce, cipher, 4, additional, opened));
            Assert.All(opened, octet => Assert.Equal(0, octet));
        }, iter: 500);

    [Theory, MemberData(nameof(Paths))]
    public void InterleavedBlocks_AreThoseOfOneByOne(string path) => Gen.Select(Key, Gen.Byte.Array[64]).Sample((key, blocks) =>
    {
        AesKey aesKey = AesPaths.Key(path, key);
        System.Runtime.Intrinsics.Vector128<byte>[] v =
            [.. Enumerable.Range(0, 4).Select(i => System.Runtime.Intrinsics.Vector128.Create(blocks, 16 * i))];
        var one = v.Select(aesKey.Encrypt).ToArray();
        var (a, b) = (v[0], v[1]);
        aesKey.Encrypt(ref a, ref b);
        Assert.Equal((one[0], one[1]), (a, b));
        aesKey.Encrypt(ref v[0], ref v[1], ref v[2], ref v[3]);
        Assert.Equal(one, v);
    }, iter: 100);

    [Theory, MemberData(nameof(Paths))]
    public void OneKey_ServesSeveralThreads(string path)
    {
        AesKey key = AesPaths.Key(path, [.. Enumerable.Range(0, 16).Select(i => (byte)i)]);
        byte[][] expected = [.. Enumerable.Range(0, 256).Select(i => Encrypted(key, (byte)i))];
        Parallel.For(0, 20_000, i => Assert.Equal(expected[i & 0xFF], Encrypted(key, (byte)(i & 0xFF))));
    }

    [Fact]
    public void WrongMic_AllocatesNothing()
    {
        AesKey key = new(new byte[16]);
        byte[] nonce = new byte[13], cipher = new byte[40], plain = new byte[36];
        bool opened = AesCcm.TryDecrypt(key, nonce, cipher, 4, [], plain);
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 1000; i++)
            opened |= AesCcm.TryDecrypt(key, nonce, cipher, 4, [], plain);
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
        Assert.False(opened);
    }

    [Fact]
    public void CallersMistakes_AreExceptions()
    {
        AesKey key = new(new byte[16]);
        Assert.Throws<ArgumentException>(() => new AesKey(new byte[15]));
        Assert.Throws<ArgumentException>(() => key.Encrypt(new byte[15], new byte[16]));
        Assert.Throws<ArgumentException>(() => AesCcm.TryDecrypt(key, new byte[12], new byte[8], 4, [], new byte[8]));
        Assert.Throws<ArgumentException>(() => AesCcm.TryDecrypt(key, new byte[13], new byte[8], 6, [], new byte[8]));
        Assert.Throws<ArgumentException>(() => AesCcm.Encrypt(key, new byte[13], new byte[8], 4, [], new byte[11]));
        Assert.False(AesCcm.TryDecrypt(key, new byte[13], new byte[3], 4, [], new byte[8]));   // too few octets from the air: an answer
    }

    [Fact]
    public void NoText_ShowsAKey()
    {
        byte[] octets = [.. Enumerable.Range(0xA0, 16).Select(i => (byte)i)];
        string all = $"{new AesKey(octets)} {new NetKeyMaterial(octets)} {new AppKeyMaterial(octets)} {NetworkCredentials.Flooding(octets)}";
        Assert.DoesNotContain("a0a1", all, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("A0-A1", all, StringComparison.OrdinalIgnoreCase);
    }

    private static byte[] Encrypted(AesKey key, byte first)
    {
        byte[] block = new byte[16];
        block[0] = first;
        key.Encrypt(block, block);
        return block;
    }

    private static byte[] ByBouncyCastle(byte[] key, byte[] nonce, byte[] plain, int micLength, byte[] additional)
    {
        var ccm = new CcmBlockCipher(new AesEngine());
        ccm.Init(forEncryption: true, new AeadParameters(new KeyParameter(key), micLength * 8, nonce, additional));
        byte[] output = new byte[ccm.GetOutputSize(plain.Length)];
        int length = ccm.ProcessBytes(plain, 0, plain.Length, output, 0);
        ccm.DoFinal(output, length);
        return output;
    }

    private static byte[] ByDotNet(byte[] key, byte[] nonce, byte[] plain, int micLength, byte[] additional)
    {
        using var ccm = new System.Security.Cryptography.AesCcm(key);
        byte[] cipher = new byte[plain.Length], mic = new byte[micLength];
        ccm.Encrypt(nonce, plain, cipher, mic, additional);
        return [.. cipher, .. mic];
    }
}
