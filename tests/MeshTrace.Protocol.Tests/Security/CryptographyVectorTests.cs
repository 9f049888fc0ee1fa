using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Security;

/// <summary>
/// The examples of the publications that mesh security builds on. All 26 test our own code. Those of AES-CCM with other nonces and MICs than the
/// mesh has go through the general form inside, of which the public one is the case of 13 octets and 4 or 8.
/// </summary>
public class CryptographyVectorTests
{
    public static readonly string[] Kinds = ["aes_128", "aes_cmac_subkeys", "aes_cmac", "aes_ccm", "hmac_sha256", "ecdh_p256"];

    public static TheoryData<string> Aes => VectorFile.Cryptography.IdsOf("aes_128");
    public static TheoryData<string> Subkeys => VectorFile.Cryptography.IdsOf("aes_cmac_subkeys");
    public static TheoryData<string> Cmac => VectorFile.Cryptography.IdsOf("aes_cmac");
    public static TheoryData<string> Ccm => VectorFile.Cryptography.IdsOf("aes_ccm");
    public static TheoryData<string> Hmac => VectorFile.Cryptography.IdsOf("hmac_sha256");
    public static TheoryData<string> Ecdh => VectorFile.Cryptography.IdsOf("ecdh_p256");

    [Theory, MemberData(nameof(Aes))]
    public void SpecVector_Aes(string id)
    {
        Vector vector = VectorFile.Cryptography[id];
        foreach ((_, Func<byte[], AesKey> make) in AesPaths.All)
        {
            byte[] output = new byte[16];
            make(vector.In("key")).Encrypt(vector.In("plaintext"), output);
            Assert.Equal(vector.Out("ciphertext"), output);
        }
    }

    [Theory, MemberData(nameof(Subkeys))]
    public void SpecVector_CmacSubkeys(string id)
    {
        Vector vector = VectorFile.Cryptography[id];
        foreach ((_, Func<byte[], AesKey> make) in AesPaths.All)
        {
            byte[] zero = new byte[16], k1 = new byte[16], k2 = new byte[16];
            AesKey key = make(vector.In("key"));
            key.Encrypt(zero, zero);
            AesCmac.Subkeys(key, k1, k2);
            Assert.Equal(vector.Out("aes_of_zero"), zero);
            Assert.Equal(vector.Out("k1"), k1);
            Assert.Equal(vector.Out("k2"), k2);
        }
    }

    [Theory, MemberData(nameof(Cmac))]
    public void SpecVector_Cmac(string id)
    {
        Vector vector = VectorFile.Cryptography[id];
        foreach ((_, Func<byte[], AesKey> make) in AesPaths.All)
        {
            byte[] mac = new byte[16];
            AesCmac.Compute(make(vector.In("key")), vector.In("message"), mac);
            Assert.Equal(vector.Out("mac"), mac);
        }
    }

    [Theory, MemberData(nameof(Ccm))]
    public void SpecVector_Ccm_BothWays(string id)
    {
        Vector vector = VectorFile.Cryptography[id];
        byte[] nonce = vector.In("nonce"), plain = vector.In("plaintext"), additional = AdditionalData(vector);
        byte[] expected = [.. vector.Out("ciphertext"), .. vector.Out("mic")];
        int micLength = vector.Inputs.Number("mic_octets");
        Assert.Equal(micLength, vector.Out("mic").Length);
        bool isMeshForm = nonce.Length == AesCcm.NonceLength && micLength is (4 or 8);
        foreach ((_, Func<byte[], AesKey> make) in AesPaths.All)
        {
            AesKey key = make(vector.In("key"));
            byte[] cipherAndMic = new byte[expected.Length], opened = new byte[plain.Length];
            AesCcm.EncryptGeneral(key, nonce, plain, micLength, additional, cipherAndMic);
            Assert.Equal(expected, cipherAndMic);
            Assert.True(AesCcm.TryDecryptGeneral(key, nonce, expected, micLength, additional, opened));
            Assert.Equal(plain, opened);
            if (isMeshForm)
            {
                AesCcm.Encrypt(key, nonce, plain, micLength, additional, cipherAndMic);
                Assert.Equal(expected, cipherAndMic);
                Assert.True(AesCcm.TryDecrypt(key, nonce, expected, micLength, additional, opened));
            }

            // The same with one bit of the MIC turned over: refused, and nothing of the plaintext is left.
            cipherAndMic[^1] ^= 0x01;
            Assert.False(AesCcm.TryDecryptGeneral(key, nonce, cipherAndMic, micLength, additional, opened));
            Assert.All(opened, octet => Assert.Equal(0, octet));
        }
    }

    [Theory, MemberData(nameof(Hmac))]
    public void SpecVector_HmacSha256(string id)
    {
        Vector vector = VectorFile.Cryptography[id];
        byte[] mac = new byte[32];
        ProvisioningSecurity.HmacSha256(vector.In("key"), vector.In("message"), mac);
        Assert.Equal(vector.Out("mac"), mac);
    }

    [Theory, MemberData(nameof(Ecdh))]
    public void SpecVector_EcdhP256(string id)
    {
        Vector vector = VectorFile.Cryptography[id];
        byte[] key = new byte[64], secret = new byte[32];
        foreach ((string mine, string other) in (ReadOnlySpan<(string, string)>)[("a", "b"), ("b", "a")])
        {
            Assert.True(EllipticCurve.TryGetPublicKey(vector.In("private_key_" + mine), key));
            Assert.Equal(vector.Out("public_key_" + mine), key);
            Assert.True(EllipticCurve.TryGetSharedSecret(vector.In("private_key_" + mine), vector.Out("public_key_" + other), secret));
            Assert.Equal(vector.Out("shared_secret_x"), secret);
        }
    }

    private static byte[] AdditionalData(Vector vector)
    {
        if (!vector.Has("additional_data_pattern"))
            return vector.In("additional_data");
        byte[] pattern = vector.In("additional_data_pattern");
        return [.. Enumerable.Repeat(pattern, vector.Inputs.Number("additional_data_pattern_repeats")).SelectMany(p => p)];
    }
}
