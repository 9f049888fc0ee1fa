using CsCheck;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Beacons;

public class BeaconTests
{
    private static readonly NetKeyMaterial Network = new(VectorFile.SampleData["8.4.3"].In("net_key"));

    // Lengths and types: Mesh Protocol 1.1 §3.10.2 to §3.10.4.
    [Fact]
    public void BadBytes_EveryTruncationAndExtension_IsNamedNotThrown()
    {
        foreach (string id in (string[])["8.4.1", "8.4.2", "8.4.3", "8.4.6.1"])
        {
            byte[] good = VectorFile.SampleData[id].Out("beacon");
            Assert.True(TryRead(good, good, out _));
            for (int length = 0; length <= good.Length + 3; length++)
            {
                byte[] octets = [.. good.Take(length), .. new byte[Math.Max(0, length - good.Length)]];
                bool isAnotherForm = good[0] == 0x00 && length is 19 or 23;
                bool read = TryRead(good, octets, out DecodeProblem problem);
                Assert.Equal(length == good.Length || (good[0] == 0x00 && isAnotherForm), read);
                Assert.Equal(read ? Layer.None : Layer.Beacon, problem.Layer);
                Assert.Equal(read ? ProblemKind.None : problem.Had < problem.Needed ? ProblemKind.TooShort : ProblemKind.TooLong, problem.Kind);
            }
            byte[] wrongType = [0x7F, .. good[1..]];
            Assert.False(TryRead(good, wrongType, out DecodeProblem wrong));
            Assert.Equal((ProblemKind.WrongValue, 0, "BeaconType", 0x7F), (wrong.Kind, wrong.Offset, wrong.Field, wrong.Had));
        }
    }

    [Fact]
    public void TypeOf_KeepsValuesThatAreNotAssigned()
    {
        Assert.False(Beacon.TryReadType([], out _));
        Assert.True(Beacon.TryReadType([0x42], out BeaconType type));
        Assert.Equal((BeaconType)0x42, type);
    }

    [Fact]
    public void OneBitWrongAnywhere_IsNotAuthentic()
    {
        byte[] secure = VectorFile.SampleData["8.4.3"].Out("beacon"), hidden = new byte[PrivateBeacon.Length];
        PrivateBeacon.Write(hidden, new byte[13], BeaconFlags.IvUpdate, 7, Network.PrivateBeaconKey);
        for (int bit = 8; bit < 8 * secure.Length; bit++)
        {
            byte[] octets = [.. secure];
            octets[bit / 8] ^= (byte)(1 << (bit % 8));
            Assert.True(SecureNetworkBeacon.TryRead(octets, out SecureNetworkBeacon beacon, out _));
            Assert.False(beacon.Authenticate(Network.BeaconKey));
        }
        for (int bit = 8; bit < 8 * hidden.Length; bit++)
        {
            byte[] octets = [.. hidden];
            octets[bit / 8] ^= (byte)(1 << (bit % 8));
            Assert.True(PrivateBeacon.TryRead(octets, out PrivateBeacon beacon, out _));
            Assert.False(beacon.TryOpen(Network.PrivateBeaconKey, out BeaconFlags flags, out uint ivIndex));
            Assert.Equal((BeaconFlags.None, 0u), (flags, ivIndex));
        }
    }

    [Fact]
    public void RfuFlags_AreReadAsSentButChangeNothing()
    {
        byte[] octets = new byte[SecureNetworkBeacon.Length];
        SecureNetworkBeacon.Write(octets, (BeaconFlags)0xFD, Network.NetworkId, 5, Network.BeaconKey);
        Assert.True(SecureNetworkBeacon.TryRead(octets, out SecureNetworkBeacon beacon, out _));
        Assert.True(beacon.Authenticate(Network.BeaconKey));
        Assert.Equal((true, false), (beacon.KeyRefresh, beacon.IvUpdate));
    }

    [Fact]
    public void RoundTrip_OfAnyFields() => Gen.Select(Gen.Byte.Array[16], Gen.UShort, Gen.UInt, Gen.Byte.Array[13], Gen.Byte[0, 3]).Sample((uuid, oob, word, random, flags) =>
    {
        byte[] octets = new byte[40];
        Assert.True(UnprovisionedDeviceBeacon.TryRead(octets.AsSpan(0, UnprovisionedDeviceBeacon.Write(octets, uuid, oob, word)), out UnprovisionedDeviceBeacon waiting, out _));
        Assert.Equal((oob, word), (waiting.OobInformation, waiting.UriHash));
        Assert.Equal(uuid, waiting.DeviceUuid.ToArray());
        Assert.True(PrivateBeacon.TryRead(octets.AsSpan(0, PrivateBeacon.Write(octets, random, (BeaconFlags)flags, word, Network.PrivateBeaconKey)), out PrivateBeacon hidden, out _));
        Assert.True(hidden.TryOpen(Network.PrivateBeaconKey, out BeaconFlags readFlags, out uint ivIndex));
        Assert.Equal(((BeaconFlags)flags, word), (readFlags, ivIndex));
    }, iter: 500);

    [Fact]
    public void RandomOctets_NeverThrow() => Gen.Byte.Array[0, 40].Sample(octets =>
    {
        for (byte type = 0; type < 3; type++)
            _ = TryRead([type], octets, out _);
        if (SecureNetworkBeacon.TryRead(octets, out SecureNetworkBeacon beacon, out _))
            Assert.False(beacon.Authenticate(Network.BeaconKey));
        if (PrivateBeacon.TryRead(octets, out PrivateBeacon hidden, out _))
            Assert.False(hidden.TryOpen(Network.PrivateBeaconKey, out _, out _));
    }, iter: 20_000);

    private static bool TryRead(byte[] typeFrom, byte[] octets, out DecodeProblem problem) => (BeaconType)typeFrom[0] switch
    {
        BeaconType.UnprovisionedDevice => UnprovisionedDeviceBeacon.TryRead(octets, out _, out problem),
        BeaconType.SecureNetwork => SecureNetworkBeacon.TryRead(octets, out _, out problem),
        _ => PrivateBeacon.TryRead(octets, out _, out problem),
    };
}
