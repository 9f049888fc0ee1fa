using System.Globalization;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Transfer;

/// <summary>A transfer that came to its end, but took several times what its segments and one round trip need.</summary>
internal sealed class TransferSlow : IFindingRule
{
    /// <summary>Slow is so many times what is needed (ours).</summary>
    private const double Factor = 3;

    /// <summary>What users complain about, whatever the reason (ours).</summary>
    private const double PlainlySlowMs = 8_000;

    /// <summary>Default of SAR Segment Interval Step (Mesh Protocol 1.1 §4.2.48).</summary>
    private const double UsualIntervalMs = 60;

    public string Id => "transfer-slow";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var cases = new TransferCases();
        SarRules? rules = null;
        for (int row = 0; row < history.Timelines.Count; row++)
        {
            if (history.Transfers[row].Outcome != TransferOutcome.Acknowledged || history.Timelines[row].Rounds.Count == 0
                || history.Transfers[row].FirstTimeNs == CapturedFrame.NoTime)
                continue;
            rules ??= new SarRules(history, history.Directory);
            double taken = TakenMs(history.Transfers[row], history.Timelines[row]);
            if (taken > Factor * NeededMs(history, rules, row) && (Reason(history, rules, row) is not null || taken > PlainlySlowMs))
                cases.Add(history, row, Confidence.Likely);
        }
        foreach (TransferCase found in cases.All)
        {
            Analysis.Transfers.Transfer transfer = history.Transfers[found.First];
            double taken = TakenMs(transfer, history.Timelines[found.First]) / 1000, needed = NeededMs(history, rules!, found.First) / 1000;
            string why = Reason(history, rules!, found.First) ?? $"it took {history.Timelines[found.First].Rounds.Count} rounds";
            findings.Add(Id, found.Confidence, transfer.FirstTimeNs, history.Directory.NodeOf(found.Src), null,
                $"{history.Called(found.Src)} needed {Wording.Span(taken)} for {TransferCases.Sized(transfer)} to {history.Called(found.Dst)} where about {Wording.Span(needed)} would do{found.Often(history)}: {why}.",
                found.Evidence);
        }
    }

    /// <summary>From the first segment heard to the full acknowledgment; a later one repeats what the sender has known since it stopped.</summary>
    private static double TakenMs(Analysis.Transfers.Transfer transfer, TransferTimeline timeline)
    {
        BlockAcknowledgment full = transfer.Acks.Find(ack => ack.TimeNs != CapturedFrame.NoTime && (ack.Block & transfer.AllSegments) == transfer.AllSegments);
        long stopped = TransferCases.Later(TransferCases.LastSegmentNs(timeline), timeline.Acks[0].TimerMs);
        return Wording.Seconds(transfer.FirstTimeNs, Math.Min(full.TimeNs, stopped)) * 1000;
    }

    private static double NeededMs(CaptureHistory history, SarRules rules, int row) =>
        (history.Transfers[row].Segments * IntervalMs(history, rules, row)) + history.Timelines[row].Acks[0].TimerMs;

    private static double IntervalMs(CaptureHistory history, SarRules rules, int row)
    {
        Analysis.Transfers.Transfer transfer = history.Transfers[row];
        return rules.TransmitterAt(history.Directory.NodeOf(transfer.Src), transfer.FirstTimeNs)?.SegmentIntervalMs ?? UsualIntervalMs;
    }

    /// <summary>What takes the time: the segments, or the waits between the rounds. Null where it is the number of rounds alone: that is loss, not slowness.</summary>
    private static string? Reason(CaptureHistory history, SarRules rules, int row)
    {
        TransferTimeline timeline = history.Timelines[row];
        if (timeline.SegmentIntervalMs is { } interval && interval > Factor * IntervalMs(history, rules, row))
            return string.Create(CultureInfo.InvariantCulture, $"one segment follows the other after {interval:0} ms");
        TransferRound? longest = timeline.Rounds.Where(round => round.WaitMs > Factor * round.TimerMs).OrderByDescending(round => round.WaitMs).Cast<TransferRound?>().FirstOrDefault();
        return longest is { WaitMs: { } wait } round
            ? string.Create(CultureInfo.InvariantCulture, $"it waits up to {Wording.Span(wait / 1000)} before it sends again, where {Wording.Span(round.TimerMs / 1000)} is due")
            : null;
    }
}
