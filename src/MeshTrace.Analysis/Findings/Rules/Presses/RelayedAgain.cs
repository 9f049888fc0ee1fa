using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>A relay sends one PDU on a second time, with a lower TTL or long after its first copies: its network message cache had forgotten it.</summary>
internal sealed class RelayedAgain : IFindingRule
{
    /// <summary>So many floods make a habit (ours).</summary>
    private const int Habit = 2;

    /// <summary>A pause of so many intervals of its Relay Retransmit state, each with its random 10 ms, and of half a second at least, is no repetition any more: eight transmissions are the most (ours).</summary>
    private const int Intervals = 10, RandomMs = 10;
    private const long LeastPauseNs = 500_000_000;

    /// <summary>Floods and copies looked at, at most.</summary>
    private const int Sample = 20_000, MostCopies = 1_000_000;

    public string Id => "relayed-again";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var again = new Dictionary<MeshAddress, List<int>>();
        var relayed = new Dictionary<MeshAddress, int>();
        var sent = new Dictionary<ushort, (byte High, byte Low)>();
        var times = new List<(ushort Node, int Receiver, byte Ttl, long TimeNs)>();
        var late = new HashSet<ushort>();
        int copies = 0;
        foreach (int row in FloodSample.Of(history, Sample))
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.HighestTtl - flood.LowestTtl < 1 || copies > MostCopies)
                continue;
            copies += flood.Copies;
            MeshAddress src = history.Directory.NodeOf(flood.Src);
            sent.Clear();
            times.Clear();
            foreach (FloodCopy copy in history.CopiesOf(row))
                if (copy.Bearer == Bearer.Advertising && history.SenderOf(copy) is { } node && node != src)
                {
                    times.Add((node.Value, history.Frames[copy.Frame].Receiver, copy.Ttl, history.Frames[copy.Frame].TimeNs));
                    sent[node.Value] = sent.TryGetValue(node.Value, out (byte High, byte Low) before)
                        ? (Math.Max(before.High, copy.Ttl), Math.Min(before.Low, copy.Ttl)) : (copy.Ttl, copy.Ttl);
                }
            SentLongAfter(history, times, late);
            foreach ((ushort node, (byte high, byte low)) in sent)
            {
                var relay = new MeshAddress(node);
                relayed[relay] = relayed.GetValueOrDefault(relay) + 1;
                if (high == low && !late.Contains(node))
                    continue;
                if (!again.TryGetValue(relay, out List<int>? rows))
                    again.Add(relay, rows = []);
                rows.Add(row);
            }
        }
        foreach ((MeshAddress relay, List<int> rows) in again.OrderBy(pair => pair.Key))
            if (rows.Count >= Habit)
                findings.Add(Id, Confidence.Likely, history.Floods[rows[0]].FirstTimeNs, relay, null,
                    $"{findings.Words.Name(relay)} relayed {rows.Count} of {relayed[relay]} floods twice, the second time with a lower TTL than before or long after its first copies: it had forgotten that it had them.",
                    [.. rows.Select(row => new Evidence("flood", row))]);
    }

    /// <summary>Nodes that sent the PDU at one TTL, paused, and sent it at that TTL again.</summary>
    private static void SentLongAfter(CaptureHistory history, List<(ushort Node, int Receiver, byte Ttl, long TimeNs)> times, HashSet<ushort> late)
    {
        late.Clear();
        times.Sort();
        for (int at = 1; at < times.Count; at++)
        {
            (ushort node, int receiver, byte ttl, long timeNs) = times[at];
            if ((node, receiver, ttl) != (times[at - 1].Node, times[at - 1].Receiver, times[at - 1].Ttl) || timeNs == CapturedFrame.NoTime)
                continue;
            double intervalMs = history.Repeats?.RelayRetransmitOf(new MeshAddress(node))?.IntervalMs ?? 0;
            if (timeNs - times[at - 1].TimeNs > Math.Max(LeastPauseNs, (long)(Intervals * (intervalMs + RandomMs) * 1e6)))
                late.Add(node);
        }
    }
}
