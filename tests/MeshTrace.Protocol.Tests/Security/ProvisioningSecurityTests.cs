using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Security;

/// <summary>Samples of Mesh Protocol 1.1 §8.7 and §8.17, with each intermediate value, and what must be refused.</summary>
public class ProvisioningSecurityTests
{
    public static readonly string[] Kinds = ["ecdh", "provisioning_security"];

    public static TheoryData<string> Ecdh => VectorFile.SampleData.IdsOf("ecdh");
    public static TheoryData<string> Provisionings => VectorFile.SampleData.IdsOf("provisioning_security");

    [Theory, MemberData(nameof(Ecdh))]
    public void SpecVector_Ecdh(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] key = new byte[64], secret = new byte[32];
        foreach ((string mine, string other) in (ReadOnlySpan<(string, string)>)[("provisioner", "device"), ("device", "provisioner")])
        {
            Assert.True(EllipticCurve.TryGetPublicKey(vector.In(mine + "_private_key"), key));
            Assert.Equal(vector.Out(mine + "_public_key"), key);
            Assert.True(EllipticCurve.TryGetSharedSecret(vector.In(mine + "_private_key"), vector.Out(other + "_public_key"), secret));
            Assert.Equal(vector.Out("ecdh_secret"), secret);
        }
    }

    [Theory, MemberData(nameof(Provisionings))]
    public void SpecVector_Provisioning_EachStep(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] secret = new byte[32];
        Assert.True(EllipticCurve.TryGetSharedSecret(vector.In("device_private_key"), vector.In("provisioner_public_key"), secret));
        Assert.Equal(vector.Out("ecdh_secret"), secret);

        byte[] inputs = [.. vector.In("invite"), .. vector.In("capabilities"), .. vector.In("start"), .. vector.In("provisioner_public_key"),
            .. vector.In("device_public_key")];
        Assert.Equal(vector.Out("confirmation_inputs"), inputs);
        ProvisioningSecurity security = new(AlgorithmOf(vector), secret, inputs);
        Assert.Equal(vector.In("start")[0], (byte)security.Algorithm);
        Assert.Equal(vector.Out("confirmation_salt"), security.ConfirmationSalt.ToArray());

        int n = security.ConfirmationLength;
        byte[] auth = vector.In("auth_value"), random = vector.In("random_provisioner"), deviceRandom = vector.In("random_device");
        Assert.Equal(vector.Out("confirmation_key_t"), ConfirmationKeyT(security, secret, auth));
        byte[] key = Filled(n, k => security.ComputeConfirmationKey(auth, k));
        Assert.Equal(vector.Out("confirmation_key"), key);
        Assert.Equal(vector.Out("confirmation_provisioner"), Filled(n, c => security.ComputeConfirmation(random, auth, c)));
        Assert.Equal(vector.Out("confirmation_device"), Filled(n, c => security.ComputeConfirmation(deviceRandom, auth, c)));
        Assert.True(security.Confirms(vector.Out("confirmation_device"), deviceRandom, auth));
        Assert.False(security.Confirms(vector.Out("confirmation_device"), random, auth));

        byte[] salt = Filled(16, s => security.ComputeProvisioningSalt(random, deviceRandom, s));
        Assert.Equal(vector.Out("provisioning_salt"), salt);
        Assert.Equal(vector.Out("session_t"), Filled(16, t => AesCmac.Compute(new AesKey(salt), secret, t)));
        Assert.Equal(vector.Out("session_key"), Filled(16, k => security.ComputeSessionKey(salt, k)));
        Assert.Equal(vector.Out("session_nonce_full"), Filled(16, k => KeyDerivation.K1(secret, salt, "prsn"u8, k)));
        Assert.Equal(vector.Out("session_nonce"), Filled(13, k => security.ComputeSessionNonce(salt, k)));
        Assert.Equal(vector.Out("device_key"), Filled(16, k => security.ComputeDeviceKey(salt, k)));

        byte[] data = [.. vector.In("net_key"), .. vector.In("net_key_index"), .. vector.In("flags"), .. vector.In("iv_index"),
            .. vector.In("unicast_address")];
        Assert.Equal(vector.Out("provisioning_data"), data);
        byte[] encrypted = [.. vector.Out("encrypted_provisioning_data"), .. vector.Out("provisioning_data_mic")];
        Assert.Equal(encrypted, Filled(33, e => security.EncryptData(salt, data, e)));
        byte[] opened = new byte[25];
        Assert.True(security.TryDecryptData(salt, encrypted, opened));
        Assert.Equal(data, opened);
    }

    [Theory, MemberData(nameof(Provisionings))]
    public void BadBytes_ProvisioningDataIsRefusedAndZeroed(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        ProvisioningSecurity security = new(AlgorithmOf(vector), vector.Out("ecdh_secret"), vector.Out("confirmation_inputs"));
        byte[] salt = vector.Out("provisioning_salt"), good = [.. vector.Out("encrypted_provisioning_data"), .. vector.Out("provisioning_data_mic")];
        byte[] data = new byte[25];
        for (int i = 0; i < good.Length; i++)
        {
            byte[] bad = [.. good];
            bad[i] ^= 0x10;
            Array.Fill(data, (byte)0xA5);
            Assert.False(security.TryDecryptData(salt, bad, data));
            Assert.All(data, octet => Assert.Equal(0, octet));
            Assert.False(security.TryDecryptData(salt, good.AsSpan(0, i), data));
        }
    }

    // Mesh Protocol 1.1 §5.4: a public key that is no point of the curve must be refused. Values: a coordinate of RFC 5903 changed by one,
    // the prime of the curve and the point (0, 0), which has no place on it.
    [Theory]
    [InlineData("dad0b65394221cf9b051e1feca5787d098dfe637fc90b9ef945d0c37725811805271a0461cdb8252d61f1c456fa3e59ab1f45b33accf5f58389e0577b8990bb4")]
    [InlineData("ffffffff00000001000000000000000000000000ffffffffffffffffffffffff5271a0461cdb8252d61f1c456fa3e59ab1f45b33accf5f58389e0577b8990bb3")]
    [InlineData("00000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000")]
    [InlineData("dad0")]
    [InlineData("")]
    public void BadBytes_PublicKeyOffTheCurveIsRefused(string hex)
    {
        byte[] publicKey = Convert.FromHexString(hex);
        byte[] privateKey = VectorFile.SampleData["8.7"].In("device_private_key");
        Assert.False(EllipticCurve.IsPublicKey(publicKey));
        Assert.False(EllipticCurve.TryGetSharedSecret(privateKey, publicKey, new byte[32]));
    }

    // SEC 1: a private key lies from 1 to n - 1; n is the order of P-256 (FIPS 186-4 D.1.2.3).
    [Theory]
    [InlineData("0000000000000000000000000000000000000000000000000000000000000000", false)]
    [InlineData("0000000000000000000000000000000000000000000000000000000000000001", true)]
    [InlineData("ffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632550", true)]
    [InlineData("ffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632551", false)]
    [InlineData("01", false)]
    public void PrivateKey_MustLieBelowTheOrder(string hex, bool good) =>
        Assert.Equal(good, EllipticCurve.TryGetPublicKey(Convert.FromHexString(hex), new byte[64]));

    private static ProvisioningAlgorithm AlgorithmOf(Vector vector) => vector.Inputs.Text("algorithm") switch
    {
        "BTM_ECDH_P256_CMAC_AES128_AES_CCM" => ProvisioningAlgorithm.CmacAes128,
        "BTM_ECDH_P256_HMAC_SHA256_AES_CCM" => ProvisioningAlgorithm.HmacSha256,
        string other => throw new InvalidOperationException(other),
    };

    private static byte[] ConfirmationKeyT(ProvisioningSecurity security, byte[] secret, byte[] auth)
    {
        byte[] salt = security.ConfirmationSalt.ToArray();
        return security.Algorithm == ProvisioningAlgorithm.CmacAes128
            ? Filled(16, t => AesCmac.Compute(new AesKey(salt), secret, t))
            : Filled(32, t => ProvisioningSecurity.HmacSha256(salt, [.. secret, .. auth], t));
    }

    private static byte[] Filled(int length, Action<byte[]> fill)
    {
        byte[] octets = new byte[length];
        fill(octets);
        return octets;
    }
}
