using System.Globalization;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Capture;

/// <summary>One or two of the three advertising channels are missing from the whole capture.</summary>
internal sealed class CaptureOneChannel : IFindingRule
{
    /// <summary>Frames from which on a missing channel is no chance, and the share below which it is missing (ours).</summary>
    private const long Enough = 200;
    private const double Missing = 0.02;

    public string Id => "capture-one-channel";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        long[] channels = new long[3];
        foreach (ReceiverView view in history.ReceiverViews)
            (channels[0], channels[1], channels[2]) = (channels[0] + view.On37, channels[1] + view.On38, channels[2] + view.On39);
        long all = channels.Sum();
        if (all < Enough)
            return;
        string[] missing = [.. Enumerable.Range(0, 3).Where(at => channels[at] < Missing * all).Select(at => (37 + at).ToString(CultureInfo.InvariantCulture))];
        if (missing.Length == 0)
            return;
        findings.Add(Id, Confidence.Certain, history.TimeSpanNs?.First ?? 0, null, null,
            $"Nearly nothing was heard on {(missing.Length == 1 ? "channel" : "channels")} {FindingWords.List(missing)} of the three advertising channels in {all} frames: what was disturbed on the {(missing.Length == 1 ? "others" : "other one")} looks lost, and nodes that use fewer channels may be missing.", []);
    }
}
