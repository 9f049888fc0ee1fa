using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Security;

/// <summary>
/// Key derivation samples of Mesh Protocol 1.1 §8.1 and §8.2, the virtual addresses of §8.3, with each intermediate value.
/// </summary>
public class KeyDerivationVectorTests
{
    public static readonly string[] Kinds = ["s1", "k1", "k2", "k3", "k4", "derived_key", "virtual_address"];

    public static TheoryData<string> S1 => VectorFile.SampleData.IdsOf("s1");
    public static TheoryData<string> K1 => VectorFile.SampleData.IdsOf("k1");
    public static TheoryData<string> K2 => VectorFile.SampleData.IdsOf("k2");
    public static TheoryData<string> K3 => VectorFile.SampleData.IdsOf("k3");
    public static TheoryData<string> K4 => VectorFile.SampleData.IdsOf("k4");
    public static TheoryData<string> DerivedKeys => VectorFile.SampleData.IdsOf("derived_key");
    public static TheoryData<string> VirtualAddresses => VectorFile.SampleData.IdsOf("virtual_address");

    [Theory, MemberData(nameof(S1))]
    public void SpecVector_S1(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        Assert.Equal(vector.In("m"), System.Text.Encoding.ASCII.GetBytes(vector.Inputs.Text("m_ascii")));
        Assert.Equal(vector.Out("salt"), SaltOf(vector.In("m")));
    }

    [Theory, MemberData(nameof(K1))]
    public void SpecVector_K1(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] key = new byte[16];
        KeyDerivation.K1(vector.In("n"), vector.In("salt"), vector.In("p"), key);
        Assert.Equal(vector.Out("t"), Cmac(vector.In("salt"), vector.In("n")));
        Assert.Equal(vector.Out("k1"), key);
    }

    [Theory, MemberData(nameof(K2))]
    public void SpecVector_K2(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] n = vector.In("n"), p = vector.In("p"), t1 = new byte[16], t2 = new byte[16], t3 = new byte[16];
        Assert.Equal(vector.Out("salt"), SaltOf("smk2"u8));
        Assert.Equal(vector.Out("t"), Cmac(vector.Out("salt"), n));
        KeyDerivation.K2(n, p, t1, t2, t3);
        Assert.Equal(vector.Out("t1"), t1);
        Assert.Equal(vector.Out("t2"), t2);
        Assert.Equal(vector.Out("t3"), t3);
        KeyDerivation.K2(n, p, out byte nid, t2, t3);
        Assert.Equal(vector.Outputs.Hex("nid"), nid);
        Assert.Equal(vector.Out("encryption_key"), t2);
        Assert.Equal(vector.Out("privacy_key"), t3);

        // The same through the credentials that make P themselves
        NetworkCredentials credentials = vector.Inputs.Text("credentials") switch
        {
            "managed flooding" => NetworkCredentials.Flooding(n),
            "directed" => NetworkCredentials.Directed(n),
            _ => MessageVector.Friendship(n, vector.Inputs.GetProperty("friendship")),
        };
        Assert.Equal(nid, credentials.Nid);
        Assert.Equal(Encrypted(new AesKey(vector.Out("encryption_key"))), Encrypted(credentials.EncryptionKey));
        Assert.Equal(Encrypted(new AesKey(vector.Out("privacy_key"))), Encrypted(credentials.PrivacyKey));
    }

    [Theory, MemberData(nameof(K3))]
    public void SpecVector_K3(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        Assert.Equal(vector.Out("salt"), SaltOf("smk3"u8));
        Assert.Equal(vector.Out("t"), Cmac(vector.Out("salt"), vector.In("n")));
        Assert.Equal(vector.Out("cmac"), Cmac(vector.Out("t"), "id64\u0001"u8));
        Assert.Equal(vector.Outputs.Text("network_id"), KeyDerivation.K3(vector.In("n")).ToString("x16"));
        Assert.Equal(vector.Outputs.Text("network_id"), new NetKeyMaterial(vector.In("n")).NetworkId.ToString("x16"));
    }

    [Theory, MemberData(nameof(K4))]
    public void SpecVector_K4(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        Assert.Equal(vector.Out("salt"), SaltOf("smk4"u8));
        Assert.Equal(vector.Out("t"), Cmac(vector.Out("salt"), vector.In("n")));
        Assert.Equal(vector.Out("cmac"), Cmac(vector.Out("t"), "id6\u0001"u8));
        Assert.Equal(vector.Outputs.Hex("aid"), KeyDerivation.K4(vector.In("n")));
        Assert.Equal(vector.Outputs.Hex("aid"), new AppKeyMaterial(vector.In("n")).Aid);
    }

    [Theory, MemberData(nameof(DerivedKeys))]
    public void SpecVector_KeysDerivedFromANetKey(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] salt = SaltOf(System.Text.Encoding.ASCII.GetBytes(vector.Inputs.Text("salt_text"))), key = new byte[16];
        Assert.Equal(vector.Out("salt"), salt);
        Assert.Equal(vector.Out("t"), Cmac(salt, vector.In("net_key")));
        KeyDerivation.K1(vector.In("net_key"), salt, vector.In("p"), key);
        Assert.Equal(vector.Out("key"), key);
        var material = new NetKeyMaterial(vector.In("net_key"));
        AesKey derived = vector.Inputs.Text("key_name") switch
        {
            "IdentityKey" => material.IdentityKey,
            "BeaconKey" => material.BeaconKey,
            "PrivateBeaconKey" => material.PrivateBeaconKey,
            string other => throw new InvalidOperationException(other),
        };
        Assert.Equal(Encrypted(new AesKey(key)), Encrypted(derived));
    }

    [Theory, MemberData(nameof(VirtualAddresses))]
    public void SpecVector_VirtualAddress(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        Assert.Equal(vector.Outputs.Address("virtual_address"), VirtualAddress.Of(vector.In("label_uuid")));
    }

    private static byte[] SaltOf(ReadOnlySpan<byte> text)
    {
        byte[] salt = new byte[16];
        KeyDerivation.S1(text, salt);
        return salt;
    }

    private static byte[] Cmac(byte[] key, ReadOnlySpan<byte> message)
    {
        byte[] mac = new byte[16];
        AesCmac.Compute(new AesKey(key), message, mac);
        return mac;
    }

    /// <summary>A key does not show its octets, so two of them are compared by what they make of a block.</summary>
    private static byte[] Encrypted(AesKey key)
    {
        byte[] output = new byte[16];
        key.Encrypt("the quick sample"u8, output);
        return output;
    }
}
