using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Tests.Commissioning;

public sealed class CommissioningStoryTests
{
    private readonly AirBuilder _air = new();
    private uint _seq = 1;

    [Fact]
    public void ADevice_IsFollowedFromItsBeaconToItsBinding()
    {
        byte[] beacon = new byte[32];
        _air.Structure(0, AdType.MeshBeacon, beacon.AsSpan(0, UnprovisionedDeviceBeacon.Write(beacon, ProvisioningSession.DeviceUuid.ToByteArray(bigEndian: true), 0, null)));
        var session = new ProvisioningSession(_air);
        session.Open();
        session.Run();
        session.Close(LinkCloseReason.Success);
        const ushort node = ProvisioningSession.Unicast;
        Ask(10_000, "00" + "670500" + Convert.ToHexString(AirBuilder.AppKey));      // AppKey 0 of NetKey 0x567 (§4.3.1.1: low 12 bits first)
        Answer(10_500, "8003" + "00" + "670500");
        Ask(11_000, "803d" + "0c0b" + "0000" + "0010");
        Answer(11_500, "803e" + "00" + "0c0b" + "0000" + "0010");
        Ask(12_000, "801b" + "0c0b" + "01c0" + "0010");

        CaptureHistory history = Analyse();

        NodeStory story = Assert.Single(history.Commissioning.Devices);
        Assert.Equal((node, ProvisioningSession.DeviceUuid), (story.Node!.Value.Value, story.DeviceUuid));
        Assert.Equal((0, 0), (story.Beacon, story.JoinedBy));
        Assert.InRange(story.ProvisioningMs!.Value, 100, 10_000);
        Assert.Equal((false, true, true), (story.CompositionTold, story.AppKeyAdded, story.KeyBound));
        Assert.Equal(
            [LifecycleKind.UnprovisionedBeacon, LifecycleKind.ProvisioningBegun, LifecycleKind.Provisioned, LifecycleKind.KeyAdded, LifecycleKind.KeyBound, LifecycleKind.SubscriptionChanged],
            story.Events.Select(one => one.Kind));
        Assert.Contains("joins the network as 0x0B0C over PB-ADV after", story.Events[2].Says, StringComparison.Ordinal);

        var element = new MeshAddress(node);
        var onOff = new ModelInstance(element, new ModelNumber(0x1000));
        NodeModel model = history.NodeModels!.Of(element);
        Assert.True(model.At(0).OutOfNetwork.Holds);
        NodeState joined = model.At(9_000_000_000), last = model.At(long.MaxValue);
        Assert.Equal(new Claim(true, KnownFrom.Confirmed), joined.NetKeys[ProvisioningSession.NetKeyIndex]);
        Assert.Equal(new Claim(false, KnownFrom.FreshFromProvisioning), joined.AppKeys[0]);
        Assert.Equal((true, KnownFrom.Confirmed), (last.AppKeys[0].Holds, last.AppKeys[0].From));
        Assert.Equal((true, KnownFrom.Confirmed), (last.BindingsOf(onOff)[0].Holds, last.BindingsOf(onOff)[0].From));
        Assert.Equal((true, KnownFrom.Asked), (last.SubscriptionsOf(onOff)[new MeshAddress(0xC001)].Holds, last.SubscriptionsOf(onOff)[new MeshAddress(0xC001)].From));
        Assert.Equal(new Claim(false, KnownFrom.FreshFromProvisioning), last.BindingsOf(onOff)[4]);

        void Ask(double ms, string payload) => Say(ms, 0x0001, node, payload);
        void Answer(double ms, string payload) => Say(ms, node, 0x0001, payload);
        void Say(double ms, ushort src, ushort dst, string payload)
        {
            if (payload.Length <= 22)
            {
                _air.Access(ms, 5, _seq++, src, dst, payload, deviceKey: session.DeviceKey);
                return;
            }
            foreach (byte[] segment in _air.Segments(payload, _seq, src, dst, session.DeviceKey))
                _air.Network(ms += 20, false, 5, _seq++, src, dst, segment);
        }
    }

    [Fact]
    public void ATryThatFailed_AndALaterOne_AreOneStory()
    {
        var first = new ProvisioningSession(_air);
        first.Open();
        first.Send(false, [0x00, 0x05]);
        first.Send(true, [0x09, 0x05]);
        first.Close(LinkCloseReason.Fail);
        NodeStory story = Assert.Single(Analyse().Commissioning.Devices);
        Assert.Equal([0], story.Links);
        Assert.Null(story.JoinedBy);
        Assert.Null(story.Node);
        Assert.Contains("Out of Resources", story.Events[^1].Says, StringComparison.Ordinal);
    }

    [Fact]
    public void NothingHeard_IsNoStory() => Assert.Empty(Analyse().Commissioning.Devices);

    private CaptureHistory Analyse()
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = new KeyArguments { ProvisioningKeys = [ProvisioningSession.DevicePrivateKey] } });
        analysis.Read(_air.Frames);
        return analysis.Complete();
    }
}
