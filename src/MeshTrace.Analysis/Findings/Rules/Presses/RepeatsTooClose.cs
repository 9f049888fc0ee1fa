using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>A sender repeats its PDUs so fast that one disturbance takes them all, and lamps do miss its presses.</summary>
internal sealed class RepeatsTooClose : IFindingRule
{
    /// <summary>Repeats this close fall into one disturbance (ours; users report frequent losses at 20 ms and none at 50 and 100 ms).</summary>
    private const double CloseMs = 20;

    /// <summary>Distances from which on their median is believed (ours).</summary>
    private const int Enough = 10;

    public string Id => "repeats-too-close";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Repeats is not { } repeats)
            return;
        var lost = findings.Findings.Where(finding => finding.Id is "some-lamps-silent" or "press-unanswered").SelectMany(finding => finding.Presses).Distinct();
        foreach (var panel in lost.GroupBy(press => history.Directory.NodeOf(history.Presses[press].Src)))
        {
            if (IntervalOf(repeats, panel.Key) is not { } interval)
                continue;
            int[] presses = [.. panel.Order()];
            findings.AddOver(Id, Confidence.Possible, history.Presses[presses[0]].TimeNs, panel.Key, presses,
                $"{findings.Words.Name(panel.Key)} repeats its PDUs {interval.Says}, and {FindingWords.Count(presses.Length, "press", "presses")} of it did not come to all lamps: one disturbance can take all repeats.",
                [.. presses.Select(press => new Evidence("press", press))]);
        }
    }

    private static (double Ms, string Says)? IntervalOf(NodeRepeats repeats, MeshAddress node)
    {
        if (repeats.NetworkTransmitOf(node) is { Transmissions: > 1, Distances.Count: >= Enough, MedianDistanceMs: { } median })
            return median <= CloseMs ? (median, $"every {FindingWords.Number(median)} ms as heard") : null;
        return repeats.Settings.NetworkTransmitAt(node, long.MaxValue) is { Transmissions: > 1, IntervalMs: <= 10 } set ? (set.IntervalMs, $"every {set.IntervalMs} ms as set") : null;
    }
}
