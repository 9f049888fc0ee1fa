using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>How well senders, delays and repeats are recovered from healthy captures.</summary>
internal sealed class HopMeasure
{
    /// <summary>Copies by what was said of their transmitter, with stable and with changing advertiser addresses.</summary>
    public CopyCount Stable { get; } = new();
    public CopyCount Changing { get; } = new();

    /// <summary>Delays and repeats where the receiver gives at least 40 % of the packets, and where it gives less.</summary>
    public RecoveryCount Well { get; } = new();
    public RecoveryCount Poorly { get; } = new();

    public void Take(Composition composed)
    {
        TakeCopies(composed);
        RecoveryCount count = composed.Network.HeardShare >= 0.4 ? Well : Poorly;
        TakeDelays(composed, count);
        TakeRepeats(composed, count);
    }

    private void TakeCopies(Composition composed)
    {
        CopyCount count = composed.Network.StableAddresses ? Stable : Changing;
        var bySource = composed.Truth.Floods.GroupBy(flood => (flood.Src, flood.Seq)).ToDictionary(group => group.Key, group => group.First());
        for (int row = 0; row < composed.History.Floods.Count; row++)
        {
            FloodRow flood = composed.History.Floods[row];
            if (!bySource.TryGetValue((flood.Src.Value, flood.Seq), out TrueFlood? truth))
                continue;
            foreach (FloodCopy copy in composed.History.CopiesOf(row))
            {
                if (TransmitterOf(composed.History.Frames[copy.Frame], copy.Ttl, truth) is not { } name)
                    continue;
                DrawnNode sender = composed.Network.Named(name);
                if (composed.History.SenderOf(copy) is not { } said)
                    count.Unknown++;
                else if (sender.Owns(said.Value))
                    count.Right++;
                else
                    count.Wrong++;
            }
        }
    }

    /// <summary>The event that a frame was captured from: the last that began before the end of the frame, at its TTL. Null where two are so near that it may be either.</summary>
    private static string? TransmitterOf(in FrameRow frame, int ttl, TrueFlood truth)
    {
        const long LongestEventNs = 2_000_000;      // three packets of 376 µs and two gaps of 250 µs
        string? name = null;
        foreach (TrueEvent sent in truth.Events)
        {
            if (!sent.IsHeard || sent.Ttl != ttl || sent.TimeNs >= frame.TimeNs || frame.TimeNs - sent.TimeNs > LongestEventNs)
                continue;
            if (name is not null && name != sent.By)
                return null;
            name = sent.By;
        }
        return name;
    }

    private static void TakeDelays(Composition composed, RecoveryCount count)
    {
        foreach (MeshAddress relay in composed.History.Hops.Relays)
        {
            if (composed.Network.Owner(relay.Value) is not { } node)
                continue;
            List<double> truth = [.. TrueDelaysMs(composed, node).Order()];
            if (truth.Count < 10)
                continue;
            if (composed.History.Hops.RelayOf(relay)?.Delays.Spread is not { } spread)
            {
                count.DelaysUnknown++;
                continue;
            }
            count.Delays++;
            count.DelaysWithin += spread.MedianMs >= truth[truth.Count / 20] && spread.MedianMs <= truth[truth.Count - 1 - (truth.Count / 20)] ? 1 : 0;
        }
    }

    private static IEnumerable<double> TrueDelaysMs(Composition composed, DrawnNode node)
    {
        foreach (TrueFlood flood in composed.Truth.Floods.Where(flood => !node.Owns(flood.Src)))
        {
            TrueEvent? own = flood.Events.FirstOrDefault(sent => sent.By == node.Name);
            TrueEvent? before = own is null ? null : flood.Events.FirstOrDefault(sent => sent.Ttl == own.Ttl + 1);
            if (own is not null && before is not null)
                yield return (own.TimeNs - before.TimeNs) / 1e6;
        }
    }

    private static void TakeRepeats(Composition composed, RecoveryCount count)
    {
        foreach (DrawnNode node in composed.Network.Nodes)
        {
            var plan = composed.Network.Scenario["nodes"]!.AsArray().First(item => item!["name"]!.GetValue<string>() == node.Name)!["networkTransmit"]!;
            if (composed.History.Repeats?.NetworkTransmitOf(new MeshAddress(node.Unicast)) is not { Samples: >= 10 } heard)
                continue;
            int transmissions = plan["transmissions"]!.GetValue<int>();
            count.Counts++;
            count.CountsRight += heard.Transmissions == transmissions ? 1 : 0;
            count.CountsHigh += heard.Transmissions > transmissions ? 1 : 0;
            if (heard.IntervalMs is not { } interval)
                continue;
            count.Intervals++;
            count.IntervalsRight += interval == plan["intervalMs"]!.GetValue<int>() ? 1 : 0;
        }
    }
}

/// <summary>What was recovered of delays and repeats.</summary>
internal sealed class RecoveryCount
{
    /// <summary>Relays whose median delay was measured, and of those, how many lie within the middle nine tenths of their true delays.</summary>
    public int Delays { get; set; }
    public int DelaysWithin { get; set; }

    /// <summary>Relays of which no delay was told: their first copies were surely heard too seldom.</summary>
    public int DelaysUnknown { get; set; }

    /// <summary>Nodes whose interval was told, and of those, right ones.</summary>
    public int Intervals { get; set; }
    public int IntervalsRight { get; set; }

    /// <summary>Nodes whose number of transmissions was told, and of those, right ones, and ones too high: those are wrong claims, low ones what was heard.</summary>
    public int Counts { get; set; }
    public int CountsRight { get; set; }
    public int CountsHigh { get; set; }
}

/// <summary>Copies whose transmitter the truth tells.</summary>
internal sealed class CopyCount
{
    public long Right { get; set; }
    public long Wrong { get; set; }

    /// <summary>"A relay, not known which."</summary>
    public long Unknown { get; set; }
    public long All => Right + Wrong + Unknown;
}
