using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Transaction;

/// <summary>A different request under the TID of one less than 6 s before (Mesh Model 1.1 §3.3): servers take it for a repetition. The same value again is a retry.</summary>
internal sealed class TransactionNumberReused : IFindingRule
{
    /// <summary>Mesh Model 1.1 §3.3.</summary>
    private const double WindowSeconds = PressDetector.TransactionNs / 1e9;

    public string Id => "transaction-number-reused";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var latest = new Dictionary<(ushort Src, ushort Dst, byte Tid, uint Opcode), int>();
        var reused = new Dictionary<MeshAddress, List<(int Before, int Press)>>();
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            var key = (press.Src.Value, press.Dst.Value, press.Tid, press.Opcode.Value);
            if (latest.TryGetValue(key, out int before) && Wording.Seconds(history.Presses[before].TimeNs, press.TimeNs) is >= 0 and <= WindowSeconds
                && press.TimeNs != CapturedFrame.NoTime
                && !GoesOn(press) && press.Outcome != PressOutcome.All)
            {
                MeshAddress node = history.Directory.NodeOf(press.Src);
                if (!reused.TryGetValue(node, out List<(int Before, int Press)>? pairs))
                    reused.Add(node, pairs = []);
                pairs.Add((before, row));
            }
            latest[key] = row;
        }
        foreach ((MeshAddress node, List<(int Before, int Press)> pairs) in reused)
            Tell(history, findings, node, pairs);
    }

    /// <summary>A dimmer sends growing deltas, or another speed, under one TID on purpose: one transaction (Generic Delta Set, Generic Move Set, Mesh Model 1.1 §3.2.2, from memory).</summary>
    private static bool GoesOn(Press press) => press.Opcode.Value is 0x8209 or 0x820A or 0x820B or 0x820C;

    private void Tell(CaptureHistory history, FindingSink findings, MeshAddress node, List<(int Before, int Press)> pairs)
    {
        (int before, int press) = pairs[0];
        Press first = history.Presses[before], second = history.Presses[press];
        string often = pairs.Count > 1 ? $" ({Wording.Times(pairs.Count)} in this capture)" : "";
        findings.AddOver(Id, Confidence.Likely, second.TimeNs, node, [.. pairs.Select(pair => pair.Press)],
            $"{history.Called(second.Src)} asks for \"{second.Asks}\" with TID {second.Tid} {Wording.Span(Wording.Seconds(first.TimeNs, second.TimeNs))} after it asked for \"{first.Asks}\" with the same one{often}: "
            + "within 6 s servers take that for a repetition and ignore it.",
            [.. pairs.SelectMany(pair => new[] { pair.Before, pair.Press }).Distinct().Select(row => new Evidence("press", row))]);
    }
}
