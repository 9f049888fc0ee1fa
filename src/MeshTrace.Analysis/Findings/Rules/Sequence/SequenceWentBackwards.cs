using System.Globalization;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A node counts its PDUs from a lower number than before: receivers take them for replays and drop them (Mesh Protocol 1.1 §3.8.8).</summary>
internal sealed class SequenceWentBackwards : IFindingRule
{
    public string Id => "sequence-went-backwards";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var falls = new List<(MeshAddress Node, SequenceFall Fall)>();
        var twoLines = new HashSet<ushort>();
        foreach (SequenceLine line in findings.SequenceLines)
        {
            if (!line.StepsBack)
                continue;
            MeshAddress node = history.Directory.NodeOf(line.Src);
            if (SequenceFall.Of(history, line, out bool alternates) is { } fall)
                falls.Add((node, fall));
            if (alternates)
                twoLines.Add(node.Value);
        }
        foreach (IGrouping<MeshAddress, (MeshAddress, SequenceFall Fall)> node in falls.GroupBy(pair => pair.Node))
            if (!twoLines.Contains(node.Key.Value))
                Tell(history, findings, node.Key, [.. node.Select(pair => pair.Fall).OrderBy(fall => fall.FirstFlood)]);
    }

    private void Tell(CaptureHistory history, FindingSink findings, MeshAddress node, List<SequenceFall> falls)
    {
        SequenceFall first = falls[0];
        ref FloodRow before = ref history.Floods[first.HighestFlood];
        ref FloodRow after = ref history.Floods[first.FirstFlood];
        ref FloodRow last = ref history.Floods[first.LastFlood];
        string often = first.Count > 1 ? $", {Wording.Times(first.Count)} in this capture" : "";
        findings.Add(Id, falls.Exists(fall => fall.Originals) ? Confidence.Certain : Confidence.Likely, after.FirstTimeNs, node, null,
            $"{history.Called(after.Src)} went back from sequence number {Wording.Number(before.Seq)} to {Wording.Number(after.Seq)} at the same IV index{often}: "
            + "whoever heard the old numbers drops its messages as replays until it passes them.",
            [.. falls.SelectMany(fall => new[] { fall.HighestFlood, fall.FirstFlood, fall.SecondFlood }).Distinct().Select(row => new Evidence("flood", row))],
            "Make it keep its sequence number in persistent storage; " + Forecast(in before, in after, in last)
            + ", or sooner with a new address.");
    }

    /// <summary>When the new line passes the old one, at its present pace.</summary>
    private static string Forecast(in FloodRow before, in FloodRow after, in FloodRow last)
    {
        if (last.Seq > before.Seq)
            return "it has passed the old value by the end of the capture and is heard again";
        if (after.FirstTimeNs == CapturedFrame.NoTime || last.FirstTimeNs <= after.FirstTimeNs || last.Seq <= after.Seq)
            return "it is heard again once it passes the old value";
        double perSecond = (last.Seq - after.Seq) / Wording.Seconds(after.FirstTimeNs, last.FirstTimeNs);
        return string.Create(CultureInfo.InvariantCulture,
            $"at the present {perSecond * 3600:0} numbers an hour it passes the old value about {Wording.Span((before.Seq - last.Seq) / perSecond)} after the end of the capture and is heard again");
    }
}
