using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Tests.Live;

/// <summary>Keys outlive the part of a history in which they were learnt.</summary>
public sealed class CarriedKeysTests
{
    private static readonly byte[] DeviceKey = Convert.FromHexString("a1b2c3d4e5f60718293a4b5c6d7e8f90"), SecondNetKey = Convert.FromHexString("99887766554433221100ffeeddccbbaa");

    [Fact]
    public void AKeyLearntBefore_OpensWhatComesLater_WithItsOriginAndIvIndex()
    {
        CaptureHistory before = Analyse(Learning(), null);
        var other = new NetKeyMaterial(SecondNetKey);
        var later = new AirBuilder();
        later.Access(0, 5, 700, 0x0003, 0xC001, "82020101", credentials: other.Flooding);

        Assert.Equal(0, Analyse(later, null).OpenedNetworkPdus);
        later.Frames.Rewind();
        CaptureHistory after = Analyse(later, CarriedKeys.Of(before.Keys));

        Assert.Equal(1, after.OpenedNetworkPdus);
        Subnet subnet = after.Keys.Subnets[after.Floods[0].Subnet];
        Assert.Equal((KeyOrigin.ConfigMessage, 1, AirBuilder.IvIndex), (subnet.Origin, subnet.NetKeyIndex, subnet.IvIndex));
        Assert.Equal(before.Keys.Subnets.Count, after.Keys.Subnets.Count);
        Assert.Equal(before.Keys.AppKeys.Count, after.Keys.AppKeys.Count);
        Assert.Equal(before.Keys.DeviceKeys.Count, after.Keys.DeviceKeys.Count);
    }

    [Fact]
    public void SecurityMaterialOfFriendships_IsCarried()
    {
        CaptureHistory before = Analyse(Learning(), null);
        before.Keys.AddFriendship(0, new MeshAddress(0x0009), new MeshAddress(0x0003), 7, 8);
        CaptureHistory after = Analyse(new AirBuilder(), CarriedKeys.Of(before.Keys));
        Assert.Equal(1, before.Keys.Friendships);
        Assert.Equal(1, after.Keys.Friendships);
    }

    /// <summary>Config NetKey Add (Mesh Protocol 1.1 §4.3.2.31) of NetKey 1, and a PDU under it.</summary>
    private static AirBuilder Learning()
    {
        var air = new AirBuilder();
        List<byte[]> segments = air.Segments("8040" + "0100" + Convert.ToHexString(SecondNetKey), 200, 0x0001, 0x0003, DeviceKey);
        for (int i = 0; i < segments.Count; i++)
            air.Network(20 * i, false, 5, (uint)(200 + i), 0x0001, 0x0003, segments[i]);
        air.Access(1000, 5, 600, 0x0003, 0xC001, "82020101", credentials: new NetKeyMaterial(SecondNetKey).Flooding);
        return air;
    }

    private static CaptureHistory Analyse(AirBuilder air, CarriedKeys? carried)
    {
        var keys = new KeyArguments
        {
            NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))],
            DeviceKeys = [new TypedDeviceKey(new MeshAddress(0x0003), new KeyOctets(DeviceKey))],
        };
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys, CarriedKeys = carried });
        analysis.Read(air.Frames);
        return analysis.Complete();
    }
}
