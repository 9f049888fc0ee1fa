using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Commissioning;

/// <summary>A panel that publishes to a group and a lamp: what is missing between them, and the healthy twin.</summary>
public sealed class SetupCheckTests
{
    private const string Publish = """, "publish": {"address": "C001", "index": 0, "ttl": 5, "period": {"numberOfSteps": 0, "resolution": 100}, "retransmit": {"count": 0, "interval": 50}, "credentials": 0}""";

    [Fact]
    public void AHealthyNetwork_HasNoGap() => Assert.Empty(Gaps(Network()));

    [Fact]
    public void APublisherWithoutTheKey() => AssertGap(SetupGapKind.PublisherWithoutAppKey, Network(panelKeys: ""));

    [Fact]
    public void APublisherWithoutBinding() => AssertGap(SetupGapKind.PublisherWithoutBinding, Network(panelBind: ""));

    [Fact]
    public void APanelThatPublishesNowhere() => AssertGap(SetupGapKind.PublishesNowhere, Network(publish: ""));

    [Fact]
    public void AGroupWithoutSubscriber() => AssertGap(SetupGapKind.GroupWithoutSubscriber, Network(lampSubscribe: "\"C002\""));

    [Fact]
    public void ASubscriberOnAnotherModel() => AssertGap(SetupGapKind.SubscriberOnOtherModel, Network(lampModel: "1200"));

    [Fact]
    public void ASubscriberOnAnotherAppKey() => AssertGap(SetupGapKind.SubscriberOnOtherAppKey, Network(lampBind: "1"));

    [Fact]
    public void APartialDescription_NamesNoGroupWithoutSubscriber() =>
        Assert.Empty(Gaps(Network(lampSubscribe: "").Replace("\"provisioners\"", "\"partial\": true, \"provisioners\"", StringComparison.Ordinal)));

    [Fact]
    public void AnAnswerHeard_RefutesTheDescription()
    {
        var talk = new ConfigTalk();
        talk.Air.Access(0, 5, 1, 0x0002, 0xC001, "82020101");
        talk.Air.Access(100, 5, 1, 0x0003, 0x0002, "820401");
        Assert.Empty(talk.Analyse(Network(lampBind: "1")).Commissioning.Gaps);
    }

    [Fact]
    public void ABindingHeard_ClosesTheGap()
    {
        var talk = new ConfigTalk();
        talk.Ask(0, "803d" + "0300" + "0000" + "0010").Answer(50, "803e" + "00" + "0300" + "0000" + "0010");
        Assert.Empty(talk.Analyse(Network(lampBind: "1")).Commissioning.Gaps);
    }

    private static void AssertGap(SetupGapKind kind, string description)
    {
        SetupGap gap = Assert.Single(Gaps(description));
        Assert.Equal((kind, KnownFrom.Description, Confidence.Likely), (gap.Kind, gap.From, gap.Confidence));
        Assert.Equal(0x0002, gap.Publisher.Element.Value);
    }

    private static IReadOnlyList<SetupGap> Gaps(string description)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = NetworkDescriptionReader.Read(System.Text.Encoding.UTF8.GetBytes(description), "network.json") });
        CaptureHistory history = analysis.Complete();
        return history.Commissioning.Gaps;
    }

    private static string Network(string panelKeys = "0", string panelBind = "0", string publish = Publish, string lampModel = "1000", string lampSubscribe = "\"C001\"", string lampBind = "0") => $$"""
        {"$schema": "x", "id": "x", "version": "1.0.1", "meshUUID": "8f5ea3d6-6a2f-4b6e-9b8c-0d2f8d1b5a11", "meshName": "Library", "timestamp": "1969-01-01T00:00:00Z",
         "netKeys": [{"name": "Library", "index": 0, "key": "{{Convert.ToHexString(AirBuilder.NetKey)}}", "phase": 0, "minSecurity": "secure", "timestamp": "1969-01-01T00:00:00Z"}],
         "appKeys": [{"name": "Light", "index": 0, "boundNetKey": 0, "key": "{{Convert.ToHexString(AirBuilder.AppKey)}}"},
                     {"name": "Staff", "index": 1, "boundNetKey": 0, "key": "000102030405060708090a0b0c0d0e0f"}],
         "provisioners": [], "groups": [], "scenes": [],
         "nodes": [
           {"UUID": "8f5ea3d6-6a2f-4b6e-9b8c-0d2f8d1b5a13", "unicastAddress": "0002", "deviceKey": "101112131415161718191a1b1c1d1e1f", "security": "secure",
            "netKeys": [{"index": 0, "updated": false}], "appKeys": [{{(panelKeys.Length == 0 ? "" : "{\"index\": 0, \"updated\": false}")}}], "configComplete": true, "name": "panel", "excluded": false,
            "elements": [{"index": 0, "location": "0000", "models": [{"modelId": "1001", "subscribe": [], "bind": [{{panelBind}}]{{publish}}}]}]},
           {"UUID": "8f5ea3d6-6a2f-4b6e-9b8c-0d2f8d1b5a14", "unicastAddress": "0003", "deviceKey": "{{Convert.ToHexString(ConfigTalk.DeviceKey)}}", "security": "secure",
            "netKeys": [{"index": 0, "updated": false}], "appKeys": [{"index": 0, "updated": false}, {"index": 1, "updated": false}], "configComplete": true, "name": "lamp", "excluded": false,
            "elements": [{"index": 0, "location": "0000", "models": [{"modelId": "{{lampModel}}", "subscribe": [{{lampSubscribe}}], "bind": [{{lampBind}}]}]}]}]}
        """;
}
