using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>A relay sends one PDU on a second time with a lower TTL: its network message cache had forgotten it.</summary>
internal sealed class RelayedAgain : IFindingRule
{
    /// <summary>So many floods make a habit (ours).</summary>
    private const int Habit = 3;

    /// <summary>Floods and copies looked at, at most.</summary>
    private const int Sample = 20_000, MostCopies = 1_000_000;

    public string Id => "relayed-again";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var again = new Dictionary<MeshAddress, List<int>>();
        var relayed = new Dictionary<MeshAddress, int>();
        var sent = new Dictionary<ushort, (byte High, byte Low)>();
        int copies = 0;
        foreach (int row in FloodSample.Of(history, Sample))
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.HighestTtl - flood.LowestTtl < 1 || copies > MostCopies)
                continue;
            copies += flood.Copies;
            MeshAddress src = history.Directory.NodeOf(flood.Src);
            sent.Clear();
            foreach (FloodCopy copy in history.CopiesOf(row))
                if (history.SenderOf(copy) is { } node && node != src)
                    sent[node.Value] = sent.TryGetValue(node.Value, out (byte High, byte Low) before)
                        ? (Math.Max(before.High, copy.Ttl), Math.Min(before.Low, copy.Ttl)) : (copy.Ttl, copy.Ttl);
            foreach ((ushort node, (byte high, byte low)) in sent)
            {
                var relay = new MeshAddress(node);
                relayed[relay] = relayed.GetValueOrDefault(relay) + 1;
                if (high == low)
                    continue;
                if (!again.TryGetValue(relay, out List<int>? rows))
                    again.Add(relay, rows = []);
                rows.Add(row);
            }
        }
        foreach ((MeshAddress relay, List<int> rows) in again.OrderBy(pair => pair.Key))
            if (rows.Count >= Habit)
                findings.Add(Id, Confidence.Likely, history.Floods[rows[0]].FirstTimeNs, relay, null,
                    $"{findings.Words.Name(relay)} relayed {rows.Count} of {relayed[relay]} floods twice, the second time with a lower TTL than before: it had forgotten that it had them.",
                    [.. rows.Select(row => new Evidence("flood", row))]);
    }
}
