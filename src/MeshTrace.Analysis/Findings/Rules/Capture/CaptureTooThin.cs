using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Capture;

/// <summary>Too little was heard of a node for what its silence would otherwise tell: stands in the place of the findings that were withheld.</summary>
internal sealed class CaptureTooThin : IFindingRule
{
    /// <summary>Below this share of a node's PDUs its silence says little (ours).</summary>
    public const double ThinShare = 0.70;

    public string Id => "capture-too-thin";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach (var node in findings.Weighing.Withheld.GroupBy(withheld => withheld.Node).OrderBy(node => node.Key))
        {
            ShareInterval? share = history.HeardShares?.FloodIntervalOf(node.Key);
            if (!((share?.Share ?? history.HeardShares?.FloodShareOf(node.Key)) < ThinShare))
                continue;       // it is heard well, or sent so little that nobody knows: another thing left the finding open
            Withheld[] withheld = [.. node];
            int[] presses = [.. withheld.Select(one => one.Press).OfType<int>().Distinct().Order()];
            string heard = share is { } known ? $"only {Wording.Percent(known.Share)} of what it sends was heard ({Wording.Percent(known.Low)} to {Wording.Percent(known.High)})"
                : "too little was heard to know how well it is heard";
            findings.AddOver(Id, Confidence.Certain, presses.Length > 0 ? history.Presses[presses[0]].TimeNs : history.TimeSpanNs?.First ?? 0, node.Key, presses,
                $"Of {findings.Words.Name(node.Key)} {heard}: its silence proves nothing, so {FindingWords.List(withheld.Select(one => one.Id).Distinct())} cannot be told.",
                [.. presses.Select(press => new Evidence("press", press))]);
        }
    }
}
