using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;

namespace MeshTrace.Analysis.Findings.Rules.Transaction;

/// <summary>A different request under the TID of one less than 6 s before (Mesh Model 1.1 §3.3): servers take it for a repetition.</summary>
internal sealed class TransactionNumberReused : IFindingRule
{
    public string Id => "transaction-number-reused";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var latest = new Dictionary<(ushort Src, ushort Dst, byte Tid, uint Opcode), int>();
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            var key = (press.Src.Value, press.Dst.Value, press.Tid, press.Opcode.Value);
            if (latest.TryGetValue(key, out int before) && press.TimeNs - history.Presses[before].TimeNs is >= 0 and <= PressDetector.TransactionNs)
                findings.Add(Id, Confidence.Likely, press.TimeNs, history.Directory.NodeOf(press.Src), row,
                    $"TID {press.Tid} asks for \"{press.Asks}\" less than 6 s after it asked for \"{history.Presses[before].Asks}\": servers ignore the second.",
                    [new Evidence("press", before), new Evidence("press", row)]);
            latest[key] = row;
        }
    }
}
