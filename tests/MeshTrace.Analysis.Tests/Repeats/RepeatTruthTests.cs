using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using Xunit.Abstractions;

namespace MeshTrace.Analysis.Tests.Repeats;

/// <summary>Repeats and delays as heard, against simulated networks of which the settings are known.</summary>
public sealed class RepeatTruthTests(ITestOutputHelper output)
{
    /// <summary>PDUs from which on a count is held to the truth.</summary>
    private const int EnoughSamples = 15;

    [Theory]
    [InlineData("three", 1.0, 1)]
    [InlineData("three", 0.5, 2)]
    [InlineData("hop", 1.0, 3)]
    [InlineData("hop", 0.6, 4)]
    [InlineData("37", 0.8, 5)]
    public void TransmissionsAndIntervals_AreThoseOfTheSettings(string channels, double heard, int seed)
    {
        foreach ((int lamps, double length) in ((int, double)[])[(6, 30), (16, 70)])
        {
            ComposedNetwork network = ComposedNetwork.Of(Of(lamps, length, channels, heard, seed).ToScenario());
            CaptureHistory history = network.History;
            int counts = 0, right = 0, intervals = 0, intervalsRight = 0;
            foreach (NodeRecord node in history.Nodes)
            {
                DescribedNode described = network.NodeOf(node.Unicast);
                Compare(node.Name!, history.Repeats!.NetworkTransmitOf(node.Unicast), described.NetworkTransmit!.Value);
                Compare(node.Name!, history.Repeats.RelayRetransmitOf(node.Unicast), described.RelayRetransmit ?? default);
            }
            output.WriteLine($"{lamps} lamps: counts {right} of {counts}, intervals {intervalsRight} of {intervals}");
            Assert.True(counts > lamps / 2);
            Assert.True(right >= 0.9 * counts && intervalsRight >= 0.95 * intervals, $"{right} of {counts}, {intervalsRight} of {intervals}");

            void Compare(string name, RepeatCount? observed, DescribedTransmit set)
            {
                if (observed is not { Samples: >= EnoughSamples })
                    return;
                counts++;
                right += observed.Transmissions == set.Count ? 1 : 0;
                if (observed.Transmissions != set.Count)
                    output.WriteLine($"{name}: {observed.Transmissions} of {set}, {observed.Samples} samples");
                if (set.Count == 1)
                    return;
                intervals++;
                intervalsRight += observed.IntervalMs == set.IntervalMs ? 1 : 0;
                if (observed.IntervalMs != set.IntervalMs)
                    output.WriteLine($"{name}: {observed.IntervalMs} ms of {set}, {observed.Distances.Count} distances");
                else
                    Assert.InRange(observed.MedianDistanceMs!.Value, set.IntervalMs - 1, set.IntervalMs + 11);
            }
        }
    }

    [Theory]
    [InlineData("three", 1.0, 1)]
    [InlineData("three", 0.6, 2)]
    [InlineData("hop", 1.0, 3)]
    public void DelaysOfHops_LieWithinTheTrueSpread(string channels, double heard, int seed)
    {
        ComposedNetwork network = ComposedNetwork.Of(Of(16, 70, channels, heard, seed).ToScenario());
        var truth = new CopyTruth(network);
        for (int hop = 1; hop <= 2; hop++)
        {
            List<double> delays = [];
            foreach (SentFlood flood in truth.Floods)
                Collect(flood, hop, delays);
            delays.Sort();
            DurationHistogram measured = network.History.Hops.DelaysOfHop(hop)!;
            output.WriteLine($"hop {hop}: true {Quantile(delays, 0.1):F1} {Quantile(delays, 0.5):F1} {Quantile(delays, 0.9):F1}, measured {measured.Spread}");
            Assert.InRange(measured.MedianMs!.Value, Quantile(delays, 0.1), Quantile(delays, 0.9));
            Assert.True(measured.Count > 100);
        }
    }

    /// <summary>One channel and half of its packets: many first copies are missed. What is told is right, or nothing is told.</summary>
    [Theory]
    [InlineData("37", 0.5, 4)]
    [InlineData("38", 0.5, 5)]
    [InlineData("hop", 0.3, 6)]
    [InlineData("hop", 0.15, 7)]
    public void DelaysOfRelays_LieWithinTheTrueSpread_OrAreNotTold(string channels, double heard, int seed)
    {
        ComposedNetwork network = ComposedNetwork.Of(Of(16, 70, channels, heard, seed).ToScenario());
        var truth = new CopyTruth(network);
        List<double> delays = [];
        foreach (SentFlood flood in truth.Floods)
            for (int hop = 1; hop <= 3; hop++)
                Collect(flood, hop, delays);
        delays.Sort();
        Assert.NotEmpty(network.History.Hops.Relays);
        foreach (MeshAddress relay in network.History.Hops.Relays)
        {
            RelayCount count = network.History.Hops.RelayOf(relay)!;
            output.WriteLine($"{relay}: true {Quantile(delays, 0.05):F1} {Quantile(delays, 0.5):F1} {Quantile(delays, 0.95):F1}, told {count.Delays.Spread}, heard {count.HeardDelays.Spread}");
            if (count.Delays.MedianMs is { } median)
                Assert.InRange(median, Quantile(delays, 0.05), Quantile(delays, 0.95));
        }
    }

    /// <summary>First event of each relay at this hop, less the first event of any node one hop before.</summary>
    private static void Collect(SentFlood flood, int hop, List<double> delays)
    {
        long before = flood.Events.Where(one => one.Ttl == flood.Ttl - hop + 1).Select(one => one.BeginNs).DefaultIfEmpty(long.MaxValue).Min();
        foreach (IGrouping<string, SentEvent> relay in flood.Events.Where(one => one.Ttl == flood.Ttl - hop).GroupBy(one => one.By))
            if (relay.Min(one => one.BeginNs) is var first && first > before)
                delays.Add((first - before) / 1e6);
    }

    private static double Quantile(List<double> sorted, double share) => sorted[(int)(share * (sorted.Count - 1))];

    private static Building Of(int lamps, double length, string channels, double heard, int seed) =>
        new() { Lamps = lamps, LengthM = length, Channels = channels, HeardShare = heard, Seed = seed, Presses = 60, RelayEvery = 3 };
}
