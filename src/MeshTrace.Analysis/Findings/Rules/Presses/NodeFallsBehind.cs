using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>A relay that sends on quickly most of the time and very late now and then: its queue fills.</summary>
internal sealed class NodeFallsBehind : IFindingRule
{
    /// <summary>One relayed PDU in twenty is later than this (ours).</summary>
    private const double LateMs = 200, Late = 0.95;

    /// <summary>The late ones are so many times later than the usual ones: a relay that always waits long is set so (ours).</summary>
    private const double Times = 3;

    /// <summary>Delays from which on one in twenty tells something (ours).</summary>
    private const int Enough = 60;

    public string Id => "node-falls-behind";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach (MeshAddress relay in history.Hops.Relays)
        {
            RelayCount count = history.Hops.RelayOf(relay)!;
            if (count.Delays.Count < Enough || count.Delays.MedianMs is not { } median)
                continue;
            // Where its first transmissions were missed, a delay comes out longer by their intervals.
            double slack = SlackMs(history.Repeats, relay);
            double? late = count.Delays.QuantileMs(Late);
            if (late is { } ms && (ms <= LateMs + slack || ms <= Times * median))
                continue;
            string p95 = late is { } known ? FindingWords.Number(known) : "more than 500";
            findings.Add(Id, Confidence.Possible, history.TimeSpanNs?.First ?? 0, relay, null,
                $"{findings.Words.Name(relay)} relays after {FindingWords.Number(median)} ms as a rule, but one PDU in twenty comes {p95} ms late or more ({count.Delays.Count} delays; {FindingWords.Number(LateMs + slack)} ms are usual at most).",
                NodeRow(history, relay));
        }
    }

    private static double SlackMs(NodeRepeats? repeats, MeshAddress relay)
    {
        if (repeats?.RelayRetransmitOf(relay) is not { } heard)
            return 0;
        return Math.Max(0, heard.Transmissions - 1) * ((heard.IntervalMs ?? 0) + 10.0);
    }

    private static Evidence[] NodeRow(CaptureHistory history, MeshAddress node)
    {
        for (int row = 0; row < history.Nodes.Count; row++)
            if (history.Nodes[row].Unicast == node)
                return [new Evidence("node", row)];
        return [];
    }
}
