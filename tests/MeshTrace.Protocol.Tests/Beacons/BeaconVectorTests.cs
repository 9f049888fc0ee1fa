using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Security;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Beacons;

/// <summary>Beacon samples of Mesh Protocol 1.1 §8.4 and the supplementary ones, both ways.</summary>
public class BeaconVectorTests
{
    public static readonly string[] Kinds = ["unprovisioned_device_beacon", "secure_network_beacon", "mesh_private_beacon"];

    public static TheoryData<string> Unprovisioned => VectorFile.SampleData.IdsOf("unprovisioned_device_beacon");
    public static TheoryData<string> SecureNetwork => VectorFile.SampleData.IdsOf("secure_network_beacon");
    public static TheoryData<string> Private => VectorFile.SampleData.IdsOf("mesh_private_beacon");

    [Theory, MemberData(nameof(Unprovisioned))]
    public void SpecVector_UnprovisionedDeviceBeacon_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        Assert.True(UnprovisionedDeviceBeacon.TryRead(vector.Out("beacon"), out UnprovisionedDeviceBeacon beacon, out DecodeProblem problem), problem.ToString());
        Assert.Equal(vector.Inputs.Text("device_uuid"), Convert.ToHexStringLower(beacon.DeviceUuid));
        Assert.Equal(vector.Inputs.Text("device_uuid"), beacon.DeviceGuid.ToString("N"));
        Assert.Equal(vector.Inputs.Hex("oob_information"), beacon.OobInformation);
        uint? uriHash = null;
        if (vector.Has("uri_data"))
        {
            uriHash = UnprovisionedDeviceBeacon.HashOf(vector.In("uri_data"));
            Assert.Equal(vector.Outputs.Hex("uri_hash"), uriHash);
            Assert.StartsWith(vector.Outputs.Text("uri_hash"), vector.Outputs.Text("uri_hash_full"), StringComparison.Ordinal);
        }
        Assert.Equal(uriHash, beacon.UriHash);
        Assert.Equal(vector.Out("beacon"), Written(b => UnprovisionedDeviceBeacon.Write(b, vector.In("device_uuid"),
            (ushort)vector.Inputs.Hex("oob_information"), uriHash)));
    }

    [Theory, MemberData(nameof(SecureNetwork))]
    public void SpecVector_SecureNetworkBeacon_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        NetKeyMaterial network = new(vector.In("net_key"));
        Assert.Equal(vector.Outputs.Text("network_id"), network.NetworkId.ToString("x16"));
        Assert.True(SecureNetworkBeacon.TryRead(vector.Out("beacon"), out SecureNetworkBeacon beacon, out DecodeProblem problem), problem.ToString());
        Assert.Equal((network.NetworkId, vector.Inputs.Hex("iv_index")), (beacon.NetworkId, beacon.IvIndex));
        CheckFlags(vector, beacon.Flags);
        Assert.Equal((vector.Inputs.Number("key_refresh_flag") == 1, vector.Inputs.Number("iv_update_flag") == 1), (beacon.KeyRefresh, beacon.IvUpdate));
        Assert.Equal(vector.Outputs.Text("authentication_value"), Convert.ToHexStringLower(beacon.AuthenticationValue));

        byte[] full = new byte[16];
        Assert.Equal(vector.Out("authenticated_data"), vector.Out("beacon")[1..14]);
        AesCmac.Compute(network.BeaconKey, vector.Out("authenticated_data"), full);
        Assert.Equal(vector.Out("authentication_value_full"), full);
        foreach ((_, Func<byte[], AesKey> make) in AesPaths.All)
        {
            AesKey beaconKey = make(vector.Out("beacon_key"));
            Assert.True(beacon.Authenticate(beaconKey));
            Assert.Equal(vector.Out("beacon"), Written(b => SecureNetworkBeacon.Write(b, (BeaconFlags)vector.Inputs.Hex("flags"), network.NetworkId,
                vector.Inputs.Hex("iv_index"), beaconKey)));
        }
        Assert.True(beacon.Authenticate(network.BeaconKey));
        Assert.False(beacon.Authenticate(network.PrivateBeaconKey));
    }

    [Theory, MemberData(nameof(Private))]
    public void SpecVector_PrivateBeacon_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        NetKeyMaterial network = new(vector.In("net_key"));
        Assert.True(PrivateBeacon.TryRead(vector.Out("beacon"), out PrivateBeacon beacon, out DecodeProblem problem), problem.ToString());
        Assert.Equal([0x1C, 0x2B, .. vector.Out("beacon")], vector.Out("ad_structure"));
        Assert.Equal(vector.Inputs.Text("random"), Convert.ToHexStringLower(beacon.Random));
        Assert.Equal(vector.Outputs.Text("obfuscated_private_beacon_data"), Convert.ToHexStringLower(beacon.ObfuscatedPrivateBeaconData));
        Assert.Equal(vector.Outputs.Text("authentication_tag"), Convert.ToHexStringLower(beacon.AuthenticationTag));
        Assert.Equal(vector.Outputs.Text("private_beacon_data"), vector.Inputs.Text("flags") + vector.Inputs.Text("iv_index"));
        List<AesKey> keys = [network.PrivateBeaconKey, .. AesPaths.All.Select(p => p.Make(vector.Out("private_beacon_key")))];
        foreach (AesKey key in keys)
        {
            Assert.True(beacon.TryOpen(key, out BeaconFlags flags, out uint ivIndex));
            Assert.Equal(vector.Inputs.Hex("iv_index"), ivIndex);
            CheckFlags(vector, flags);
            Assert.Equal(vector.Out("beacon"), Written(b => PrivateBeacon.Write(b, vector.In("random"), flags, ivIndex, key)));
        }
        Assert.False(beacon.TryOpen(network.BeaconKey, out BeaconFlags noFlags, out uint noIvIndex));
        Assert.Equal((BeaconFlags.None, 0u), (noFlags, noIvIndex));
    }

    private static void CheckFlags(Vector vector, BeaconFlags flags)
    {
        Assert.Equal(vector.Inputs.Hex("flags"), (uint)flags);
        Assert.Equal(vector.Inputs.Number("key_refresh_flag") == 1, flags.HasFlag(BeaconFlags.KeyRefresh));
        Assert.Equal(vector.Inputs.Number("iv_update_flag") == 1, flags.HasFlag(BeaconFlags.IvUpdate));
    }

    private static byte[] Written(Func<byte[], int> write)
    {
        byte[] buffer = Enumerable.Repeat((byte)0xA5, 32).ToArray();
        return buffer[..write(buffer)];
    }
}
