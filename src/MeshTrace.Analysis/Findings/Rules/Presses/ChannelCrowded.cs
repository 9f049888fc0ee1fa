using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>Times in which the channels were full or disturbed where the receiver stood, and fewer copies of each flood came through than in quiet times.</summary>
internal sealed class ChannelCrowded : IFindingRule
{
    /// <summary>Of the copies that a source's floods have in quiet times, at most so many come through (ours).</summary>
    private const double Lost = 0.75;

    /// <summary>Floods in crowded times, and quiet floods of each source that tell what is usual (ours).</summary>
    private const int Enough = 8, EnoughQuiet = 5;

    public string Id => "channel-crowded";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Crowded.Count == 0)
            return;
        CrowdedSpan[] spans = [.. history.Crowded.OrderBy(span => span.FromNs)];
        var quiet = new Dictionary<MeshAddress, (long Copies, int Floods)>();
        var crowded = new List<(int Row, MeshAddress Src, int Copies)>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.FirstTimeNs == CapturedFrame.NoTime || flood.Credentials != Credentials.Flooding)
                continue;
            if (IsWithin(spans, flood.FirstTimeNs))
                crowded.Add((row, flood.Src, flood.Copies));
            else
                quiet[flood.Src] = quiet.TryGetValue(flood.Src, out (long Copies, int Floods) sum) ? (sum.Copies + flood.Copies, sum.Floods + 1) : (flood.Copies, 1);
        }
        crowded.RemoveAll(flood => quiet.GetValueOrDefault(flood.Src).Floods < EnoughQuiet);
        if (crowded.Count < Enough)
            return;
        double through = crowded.Average(flood => flood.Copies / (quiet[flood.Src].Copies / (double)quiet[flood.Src].Floods));
        if (through > Lost)
            return;
        int[] presses = [.. Enumerable.Range(0, history.Presses.Count).Where(row => history.Presses[row].TimeNs != CapturedFrame.NoTime && IsWithin(spans, history.Presses[row].TimeNs))];
        double seconds = spans.Sum(span => span.ToNs - span.FromNs) / 1e9, load = spans.Max(span => span.Load), bad = spans.Max(span => span.BadShare);
        findings.AddOver(Id, Confidence.Possible, spans[0].FromNs, null, presses,
            $"For {FindingWords.Number(seconds)} s in {FindingWords.Count(spans.Length, "stretch", "stretches")} the air was crowded where the receiver stood (frames filled up to {Wording.Percent(load)} of a channel{(bad > 0 ? $", up to {Wording.Percent(bad)} of them damaged" : "")}), and of the usual copies of a flood {Wording.Percent(through)} came through.",
            [.. crowded.Select(flood => new Evidence("flood", flood.Row))]);
    }

    private static bool IsWithin(CrowdedSpan[] spans, long timeNs)
    {
        int low = 0, high = spans.Length;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (spans[middle].FromNs <= timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low > 0 && timeNs < spans[low - 1].ToNs;
    }
}
