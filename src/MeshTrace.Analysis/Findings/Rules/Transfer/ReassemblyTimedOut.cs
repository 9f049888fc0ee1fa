using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Transfer;

/// <summary>The sender pauses within a message for so long that the receiver drops it (Mesh Protocol 1.1 §3.5.3.4); what comes after is in vain.</summary>
internal sealed class ReassemblyTimedOut : IFindingRule
{
    public string Id => "reassembly-timed-out";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var cases = new TransferCases();
        for (int row = 0; row < history.Timelines.Count; row++)
            if (MissChance(history, findings.Weighing, row) is { } missed)
                cases.Add(history, row, Confidence.Possible, missed);
        foreach (TransferCase found in cases.All)
        {
            if (findings.Weighing.Judge(Id, history.Directory.NodeOf(found.Dst), found.MissChance(history)) is not { } confidence)
                continue;
            Analysis.Transfers.Transfer transfer = history.Transfers[found.First];
            TransferTimeline timeline = history.Timelines[found.First];
            findings.Add(Id, confidence, transfer.FirstTimeNs, history.Directory.NodeOf(found.Src), null,
                $"{history.Called(found.Src)} paused for {Wording.Span(timeline.LongestSilenceMs / 1000)} within {TransferCases.Sized(transfer)} to {history.Called(found.Dst)}{found.Often(history)}: "
                + $"after {Wording.Span(timeline.DiscardMs / 1000)} the receiver drops what it has, and the rest came in vain.",
                found.Evidence);
        }
    }

    /// <summary>Chance that a segment within the pause, or an acknowledgment after it, was only missed; null where there was no such pause, or it proved harmless.</summary>
    internal static double? MissChance(CaptureHistory history, Weighing weighing, int row)
    {
        TransferTimeline timeline = history.Timelines[row];
        Analysis.Transfers.Transfer transfer = history.Transfers[row];
        if (timeline.LongestSilenceMs < timeline.DiscardMs || !transfer.Dst.IsUnicast || transfer.Outcome is TransferOutcome.Acknowledged or TransferOutcome.Cancelled)
            return null;
        List<SegmentSent> sent = [.. transfer.Sent.Where(segment => !segment.GivenOn && segment.TimeNs != CapturedFrame.NoTime).OrderBy(segment => segment.TimeNs)];
        int after = 1;
        for (int at = 2; at < sent.Count; at++)
            if (Wording.Seconds(sent[at - 1].TimeNs, sent[at].TimeNs) > Wording.Seconds(sent[after - 1].TimeNs, sent[after].TimeNs))
                after = at;
        (long from, long to) = (sent[after - 1].TimeNs, sent[after].TimeNs);
        if (history.Deafness.IsDeaf(from, to) || transfer.Acks.Exists(ack => ack.TimeNs > to))
            return null;    // an acknowledgment after the pause: the receiver still had it
        uint before = history.Floods[sent[after - 1].Flood].Seq, next = history.Floods[sent[after].Flood].Seq;
        // Numbers next to each other: nothing was sent in the pause. Else a segment may have been among what was.
        double segmentMissed = next == before + 1 ? 0 : weighing.MissChance(history.Directory.NodeOf(transfer.Src), 1, from, to);
        MeshAddress receiver = history.Directory.NodeOf(transfer.Dst);
        double ackMissed = weighing.MissChance(receiver, 1, to, TransferCases.Later(TransferCases.LastSegmentNs(timeline), timeline.Rounds[^1].TimerMs));
        return Math.Max(segmentMissed, ackMissed);
    }
}
