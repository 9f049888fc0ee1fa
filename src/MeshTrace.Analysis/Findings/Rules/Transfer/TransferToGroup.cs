using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Transfer;

/// <summary>A segmented message to a group: nobody acknowledges its segments, and one lost segment loses it all (Mesh Protocol 1.1 §3.5.3.3).</summary>
internal sealed class TransferToGroup : IFindingRule
{
    public string Id => "transfer-to-group";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var cases = new TransferCases();
        for (int row = 0; row < history.Transfers.Count; row++)
            if (history.Transfers[row] is { Segments: > 1, Dst: { IsUnicast: false } })
                cases.Add(history, row, Confidence.Certain);
        foreach (TransferCase found in cases.All)
        {
            Analysis.Transfers.Transfer longest = history.Transfers[found.Transfers.MaxBy(row => history.Transfers[row].Segments)];
            string chance = history.HeardShares?.FloodShareOf(history.Directory.NodeOf(found.Src)) is { } share
                ? $"; where this capture was taken, {Wording.Percent(share)} of its PDUs were heard, so one round of it comes whole in {Wording.Percent(Math.Pow(share, longest.Segments))} of cases"
                : "";
            findings.Add(Id, found.Confidence, history.Transfers[found.First].FirstTimeNs, history.Directory.NodeOf(found.Src), null,
                $"{history.Called(found.Src)} sent {TransferCases.Sized(longest)} to {history.Called(found.Dst)}{(found.Transfers.Count > 1 ? $", and {found.Transfers.Count - 1} more" : "")}: "
                + $"nobody acknowledges segments to a group, and who misses one misses the message{chance}.",
                found.Evidence);
        }
    }
}
