using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Tests.Completeness;

public sealed class DeafTimesTests
{
    private const long Second = 1_000_000_000;
    private static readonly long Start = new DateTimeOffset(2026, 3, 2, 18, 0, 0, TimeSpan.Zero).ToUnixTimeSeconds() * Second;

    [Theory]
    [InlineData("three", 1.0, 20)]
    [InlineData("hop", 0.6, 45)]
    public void AReceiverThatGivesNothing_IsDeaf_AndNowhereElse(string channels, double heard, int seconds)
    {
        int until = 80 + seconds;
        var building = new Building { Channels = channels, HeardShare = heard, Faults = $$"""{"fault": "receiver-deaf", "receiver": "desk", "fromS": 80, "untilS": {{until}} }""" };
        CaptureHistory history = ComposedNetwork.Of(building.ToScenario()).History;
        DeafSpan span = Assert.Single(history.Deafness.Spans);
        Assert.Equal((0, DeafReason.Silence), (span.Receiver, span.Reason));
        Assert.InRange((span.FromNs - Start) / (double)Second, 77, 80.3);       // frames come about once a second: the edges are no sharper
        Assert.InRange((span.ToNs - Start) / (double)Second, until - 0.3, until + 3);
        Assert.True(history.Deafness.IsDeaf(Start + (90 * Second), Start + (90 * Second)));
        Assert.False(history.Deafness.IsDeaf(Start + (60 * Second), Start + (70 * Second)));
        Assert.Equal(1, history.Deafness.DeafShareOf(Start + (82 * Second), Start + ((until - 2) * Second)));
        Assert.InRange(history.Deafness.DeafShareOf(Start + (60 * Second), Start + ((until + 20) * Second)), 0.2, 0.7);
    }

    /// <summary>Presses minutes apart and nothing between: silence of the network is no deafness of the receiver.</summary>
    [Theory]
    [InlineData(1, "")]
    [InlineData(2, """{"kind": "phone", "place": [10, 4], "count": 1, "intervalMs": 200, "stayS": 60}, {"kind": "phone", "place": [30, 4], "count": 1, "intervalMs": 200, "stayS": 60}""")]
    public void AQuietNetwork_IsNotDeafness(int seed, string noise)
    {
        var building = new Building { Seed = seed, Presses = 12, PressEveryS = 60, Noise = noise };
        Assert.Empty(ComposedNetwork.Of(building.ToScenario()).History.Deafness.Spans);
    }

    [Fact]
    public void TwoReceivers_AreDeafTogetherOnly()
    {
        var building = new Building
        {
            MoreReceiver = $$""", "deaf": [{"fromS": 60, "untilS": 90}] }, {"name": "stairs", "place": [40, 5], "channels": "three", "deaf": [{"fromS": 75, "untilS": 105}]""",
        };
        CaptureHistory history = ComposedNetwork.Of(building.ToScenario()).History;
        Assert.Equal([0, 1], history.Deafness.Spans.Select(span => span.Receiver));
        Assert.False(history.Deafness.IsDeaf(Start + (62 * Second), Start + (72 * Second)));
        Assert.True(history.Deafness.IsDeaf(Start + (80 * Second), Start + (85 * Second)));
        Assert.False(history.Deafness.IsDeaf(Start + (93 * Second), Start + (103 * Second)));
    }

    [Fact]
    public void ANumberLeftOutByTheRecorder_IsALoss()
    {
        var frames = new FrameList();
        byte[] octets = new byte[256];
        foreach ((int ms, ushort counter) in ((int, ushort)[])[(0, 65_533), (10, 65_534), (20, 2), (30, 3), (40, 3), (50, 40_000)])
        {
            int length = LeLinkLayerWriter.Write(octets, LinkType.LeLinkLayerWithBoardHeader, AdvertisingPduType.AdvNonconnInd, 0xC0DE00000001, true,
                [2, 1, 6], 37, -60, false, counter);
            frames.Add(ms * 1_000_000L, octets[..length], LinkType.LeLinkLayerWithBoardHeader);
        }
        var analysis = new CaptureAnalysis(new AnalysisSettings());
        analysis.Read(frames);
        DeafSpan loss = Assert.Single(analysis.Complete().Deafness.Spans);      // 65 535, 0 and 1 are missing; 40 000 began anew
        Assert.Equal(new DeafSpan(0, 10_000_000, 20_000_000, DeafReason.RecorderLost, 3), loss);
    }

    [Theory]
    [InlineData("three", 1.0, ChannelPlan.AllAtOnce)]
    [InlineData("three", 0.4, ChannelPlan.AllAtOnce)]
    [InlineData("hop", 1.0, ChannelPlan.Hopping)]
    [InlineData("hop", 0.4, ChannelPlan.Hopping)]
    [InlineData("38", 0.7, ChannelPlan.OneChannel)]
    public void TheChannelPlan_IsWorkedOutFromTheFrames(string channels, double heard, ChannelPlan plan)
    {
        ReceiverView view = Assert.Single(ComposedNetwork.Of(new Building { Channels = channels, HeardShare = heard }.ToScenario()).History.ReceiverViews);
        Assert.Equal((plan, plan == ChannelPlan.OneChannel ? 38 : null), (view.Plan, view.Channel));
        Assert.Equal(view.Frames, view.On37 + view.On38 + view.On39);
    }

    [Fact]
    public void AHostsLog_TellsNoChannelPlan()
    {
        string scenario = new Building().ToScenario().Replace("\"linkType\": 256", "\"linkType\": 187", StringComparison.Ordinal);
        ReceiverView view = Assert.Single(ComposedNetwork.Of(scenario).History.ReceiverViews);
        Assert.Equal((ChannelPlan.Unknown, false), (view.Plan, view.CountsRepeats));
    }
}
