using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using Xunit.Abstractions;

namespace MeshTrace.Analysis.Tests.Completeness;

public sealed class HeardShareTests(ITestOutputHelper output)
{
    private const string OnWithTid1 = "82020101";

    // Calculated by hand from the formula of the score interval with deviate 1.96; 8 of 10 and 0 of 10 stand in textbooks as 0.49-0.94 and 0-0.28.
    [Theory]
    [InlineData(8, 10, 0.490, 0.943)]
    [InlineData(0, 10, 0.000, 0.278)]
    [InlineData(10, 10, 0.722, 1.000)]
    [InlineData(500, 1000, 0.469, 0.531)]
    public void Interval_IsTheScoreInterval(int hits, int samples, double low, double high)
    {
        ShareInterval interval = ShareInterval.Of(hits, samples);
        Assert.Equal((low, high), (Math.Round(interval.Low, 3), Math.Round(interval.High, 3)));
        Assert.Equal(hits / (double)samples, interval.Share);
    }

    /// <summary>95 % intervals: over many nodes nearly all hold the true share of PDUs heard, and of advertising events heard.</summary>
    [Theory]
    [InlineData("three", 1.0)]
    [InlineData("three", 0.4)]
    [InlineData("hop", 0.7)]
    [InlineData("37", 0.5)]
    [InlineData("37", 0.1)]
    public void Intervals_CoverTheTruth(string channels, double heard)
    {
        int floods = 0, floodsIn = 0, events = 0, eventsIn = 0;
        for (int seed = 1; seed <= 5; seed++)
        {
            var building = new Building { Lamps = 12, LengthM = 90, Channels = channels, HeardShare = heard, Seed = seed, ReceiverAt = 0.1, SensitivityDbm = -85, RelayEvery = 6 };
            ComposedNetwork network = ComposedNetwork.Of(building.ToScenario());
            var truth = new CopyTruth(network);
            ILookup<string, SentFlood> sent = truth.Floods.ToLookup(flood => network.NameOf(network.NodeOf(flood.Src).Unicast));
            foreach (NodeRecord node in network.History.Nodes)
            {
                HeardShares shares = network.History.HeardShares!;
                if (shares.FloodIntervalOf(node.Unicast) is { } interval)
                {
                    double share = sent[node.Name!].Average(flood => flood.Events.Exists(one => one.Heard) ? 1.0 : 0);
                    floods++;
                    floodsIn += Holds(interval, share) ? 1 : 0;
                    if (!Holds(interval, share))
                        output.WriteLine($"{node.Name}: {share:F3} not in {interval}");
                }
                if (shares.EventIntervalOf(node.Unicast) is { } ofEvents)
                {
                    double share = sent[node.Name!].SelectMany(flood => flood.Events).Where(one => one.By == node.Name).Average(one => one.Heard ? 1.0 : 0);
                    events++;
                    eventsIn += Holds(ofEvents, share) ? 1 : 0;
                    if (!Holds(ofEvents, share))
                        output.WriteLine($"{node.Name}: {share:F3} not in {ofEvents}");
                }
            }
        }
        output.WriteLine($"floods {floodsIn} of {floods}, events {eventsIn} of {events}");
        Assert.True(floods > 30 && events > 10);
        Assert.True(floodsIn >= 0.93 * floods, $"{floodsIn} of {floods}");
        Assert.True(eventsIn >= 0.9 * events, $"{eventsIn} of {events}");
    }

    private static bool Holds(ShareInterval interval, double share) => share >= interval.Low - 1e-9 && share <= interval.High + 1e-9;

    [Fact]
    public void AGap_CountsAsMissed_AJumpDoesNot()
    {
        var air = new AirBuilder();
        foreach ((double ms, uint seq) in ((double, uint)[])[(0, 100), (1_000, 101), (2_000, 104), (3_000, 1_000), (4_000, 1_001), (4_100, 1_040)])
            air.Access(ms, 5, seq, 0x0003, 0xC001, OnWithTid1);
        SequenceCount count = air.Analyse().HeardShares!.CountOf(new MeshAddress(3))!.Value;
        Assert.Equal((6, 2, 2), (count.Floods, count.Gaps, count.Jumps));      // 1 000 is too far; 38 numbers in 0.1 s are too fast
    }

    [Fact]
    public void ChanceAllMissed_FallsWithTheNumberOfPdus_AndIsOneWhereNothingIsKnown()
    {
        var air = new AirBuilder();
        for (uint seq = 0; seq < 30; seq++)
            air.Access(seq * 1_000, 5, 100 + (seq * 2), 0x0003, 0xC001, OnWithTid1);
        HeardShares shares = air.Analyse().HeardShares!;
        var node = new MeshAddress(3);
        double low = ShareInterval.Of(28, 57).Low;
        Assert.Equal(1 - low, shares.ChanceAllMissed(node, 1, 0, 1), 9);
        Assert.Equal(Math.Pow(1 - low, 3), shares.ChanceAllMissed(node, 3, 0, 1), 9);
        Assert.Equal(1, shares.ChanceAllMissed(new MeshAddress(4), 3, 0, 1));
        Assert.Equal(1, shares.ChanceAllMissed(node, 0, 0, 1));
    }
}
