using System.Globalization;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A node has used most of its 24-bit numbers and no IV update is under way, which alone would let it begin anew.</summary>
internal sealed class SequenceRunningOut : IFindingRule
{
    /// <summary>Three quarters of all numbers (ours).</summary>
    internal const uint High = 0xC00000;
    private const uint Last = 0xFFFFFF;

    /// <summary>A forecast from less is worth nothing (ours).</summary>
    private const double LeastSeconds = 600;
    private const long LeastNumbers = 10;

    public string Id => "sequence-running-out";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var told = new HashSet<MeshAddress>();
        foreach (SequenceLine line in findings.SequenceLines.Where(line => history.Floods[line.Last].Seq > High).OrderByDescending(line => history.Floods[line.Last].Seq))
        {
            MeshAddress node = history.Directory.NodeOf(line.Src);
            ref FloodRow last = ref history.Floods[line.Last];
            if (UpdateUnderWay(history, last.Subnet, line.IvIndex) || HasLeft(history, node, line.IvIndex) || !told.Add(node))
                continue;
            findings.Add(Id, Confidence.Certain, last.FirstTimeNs, node, null,
                $"{history.Called(line.Src)} is at sequence number {Wording.Number(last.Seq)} of {Wording.Number(Last)} and no IV update is under way{Forecast(history, line)}.",
                [new Evidence("flood", line.First), new Evidence("flood", line.Last)]);
        }
    }

    /// <summary>A beacon tells that the network goes on to the next IV index, or has gone on.</summary>
    private static bool UpdateUnderWay(CaptureHistory history, int subnet, uint ivIndex) =>
        history.Beacons.Any(beacon => beacon is { Authenticated: true } && beacon.Subnet == subnet && beacon.IvIndex > ivIndex)
        || history.Lifecycle.Any(one => one.Kind == LifecycleKind.IvUpdateInProgress && one.Subnet == subnet);

    /// <summary>The node itself sends with a later IV index already.</summary>
    private static bool HasLeft(CaptureHistory history, MeshAddress node, uint ivIndex) =>
        history.NodeTraces.IvIndexAround(node, long.MaxValue).Before is { } latest && latest.IvIndex > ivIndex;

    private static string Forecast(CaptureHistory history, SequenceLine line)
    {
        ref FloodRow first = ref history.Floods[line.First];
        ref FloodRow last = ref history.Floods[line.Last];
        long used = (long)last.Seq - first.Seq;
        for (int i = 1; i < line.Floods.Count; i++)
        {
            ref FloodRow before = ref history.Floods[line.Floods[i - 1]];
            ref FloodRow after = ref history.Floods[line.Floods[i]];
            if (after.Seq > before.Seq && SequenceLine.IsJump(before.Seq, before.FirstTimeNs, in after))
                used -= after.Seq - before.Seq;
        }
        double seconds = Wording.Seconds(first.FirstTimeNs, last.FirstTimeNs);
        if (seconds < LeastSeconds || used < LeastNumbers)
            return ", and the capture is too short to tell how fast it counts";
        double perSecond = used / seconds;
        return string.Create(CultureInfo.InvariantCulture,
            $"; at the {perSecond * 3600:0} numbers an hour of this capture, a rough figure, it ends in {Wording.Span((Last - last.Seq) / perSecond)}");
    }
}
