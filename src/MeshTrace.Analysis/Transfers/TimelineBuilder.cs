using System.Numerics;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Transfers;

/// <summary>Puts segments and acknowledgments of each transfer in order and holds them against the timers.</summary>
internal sealed class TimelineBuilder(CaptureHistory history, SarRules rules)
{
    /// <summary>Shorter than the timer by this share is still the timer: the clock starts at the sender, and its first copy may have been missed.</summary>
    private const double TimerTolerance = 0.8;

    /// <summary>A wait within a round that is longer than this many of its intervals begins another one (threshold ours).</summary>
    private const double IntervalsOfABreak = 3;

    private const double NsPerMs = 1e6;

    public List<TransferTimeline> Run()
    {
        var timelines = new List<TransferTimeline>(history.Transfers.Count);
        for (int row = 0; row < history.Transfers.Count; row++)
            timelines.Add(Build(row, history.Transfers[row]));
        return timelines;
    }

    private TransferTimeline Build(int row, Transfer transfer)
    {
        List<SegmentSent> sent = [.. transfer.Sent.Where(segment => !segment.GivenOn && segment.TimeNs != CapturedFrame.NoTime)];
        sent.Sort((a, b) => history.Floods[a.Flood].Seq.CompareTo(history.Floods[b.Flood].Seq));      // the sender's order; hearing may mix it up
        MeshAddress sender = history.Directory.NodeOf(transfer.Src), receiver = history.Directory.NodeOf(transfer.Dst);
        int ttl = transfer.Sent.Max(segment => history.Floods[segment.Flood].OriginalTtl ?? history.Floods[segment.Flood].HighestTtl);
        double timerMs = rules.RetransmissionMs(sender, transfer.FirstTimeNs, ttl, transfer.Dst.IsUnicast);
        double? interval = MedianIntervalMs(sent);
        List<TransferRound> rounds = Rounds(transfer, sent, timerMs, interval);
        var timeline = new TransferTimeline
        {
            Transfer = row, Ttl = ttl, SarHeard = rules.TransmitterAt(sender, transfer.FirstTimeNs) is not null, Rounds = rounds,
            Acks = Acks(transfer, sent, rounds, rules.AcknowledgmentMs(receiver, transfer.FirstTimeNs, ttl, transfer.Segments - 1)),
            DiscardMs = rules.DiscardMs(receiver, transfer.FirstTimeNs), SegmentIntervalMs = interval, LongestSilenceMs = LongestSilenceMs(sent),
        };
        Judge(timeline, transfer, sent, timerMs);
        return timeline;
    }

    private static List<TransferRound> Rounds(Transfer transfer, List<SegmentSent> sent, double timerMs, double? intervalMs)
    {
        var rounds = new List<TransferRound>();
        List<long> asked = Sorted(transfer.Acks.Where(ack => (ack.Block & transfer.AllSegments) != transfer.AllSegments).Select(ack => ack.TimeNs));
        double breakMs = Math.Max(timerMs * TimerTolerance, IntervalsOfABreak * (intervalMs ?? 0));
        int begin = 0;
        for (int at = 1; at <= sent.Count; at++)
        {
            if (at < sent.Count && sent[at].SegO > sent[at - 1].SegO && (sent[at].TimeNs - sent[at - 1].TimeNs) / NsPerMs < breakMs)
                continue;
            if (sent.Count > 0)
                rounds.Add(Round(sent[begin..at], rounds, asked, timerMs));
            begin = at;
        }
        return rounds;
    }

    private static TransferRound Round(List<SegmentSent> segments, List<TransferRound> before, List<long> asked, double timerMs)
    {
        uint mask = 0;
        foreach (SegmentSent segment in segments)
            mask |= 1u << segment.SegO;
        long first = segments[0].TimeNs;
        if (before.Count == 0)
            return new TransferRound(first, segments[^1].TimeNs, mask, segments.Count, RoundCause.First, null, timerMs);
        long last = before[^1].LastNs;
        double wait = (first - last) / NsPerMs;
        bool answered = LastUpTo(asked, first) is var at and >= 0 && asked[at] > before[^1].FirstNs;
        RoundCause cause = answered ? RoundCause.Acknowledgment : wait >= timerMs * TimerTolerance ? RoundCause.Timer : RoundCause.Early;
        return new TransferRound(first, segments[^1].TimeNs, mask, segments.Count, cause, wait, timerMs);
    }

    private static List<TimedAcknowledgment> Acks(Transfer transfer, List<SegmentSent> sent, List<TransferRound> rounds, double timerMs)
    {
        var acks = new List<TimedAcknowledgment>();
        List<long> segments = Sorted(sent.Select(segment => segment.TimeNs)), begins = Sorted(rounds.Select(round => round.FirstNs));
        uint known = 0;
        for (int at = 0; at < transfer.Acks.Count; at++)
        {
            BlockAcknowledgment ack = transfer.Acks[at];
            int before = LastUpTo(segments, ack.TimeNs);
            uint progress = ack.Block & transfer.AllSegments & ~known;
            known |= progress;
            acks.Add(new TimedAcknowledgment(at, LastUpTo(begins, ack.TimeNs), before < 0 ? null : (ack.TimeNs - segments[before]) / NsPerMs, timerMs, progress));
        }
        return acks;
    }

    private void Judge(TransferTimeline timeline, Transfer transfer, List<SegmentSent> sent, double timerMs)
    {
        uint confirmed = 0;
        long lastProgress = long.MinValue;
        foreach (TimedAcknowledgment ack in timeline.Acks)
        {
            confirmed |= ack.Progress;
            if (ack.Progress != 0)
                lastProgress = transfer.Acks[ack.Ack].TimeNs;
        }
        timeline.Unconfirmed = transfer.AllSegments & ~confirmed;
        timeline.RoundsWithoutProgress = timeline.Rounds.Count(round => round.FirstNs > lastProgress);
        timeline.ResentAfterAcknowledgment = Resent(transfer, sent, timerMs);
        timeline.Stall = transfer.Dst.IsUnicast ? StallOf(timeline, transfer, sent, timerMs) : TransferStall.None;
        if (timeline.Stall is not TransferStall.None)
            timeline.StalledSinceNs = Math.Max(lastProgress, LastNewSegment(sent));
    }

    private TransferStall StallOf(TransferTimeline timeline, Transfer transfer, List<SegmentSent> sent, double timerMs)
    {
        if (transfer.Outcome == TransferOutcome.Cancelled)
            return TransferStall.Cancelled;
        if (timeline.ResentAfterAcknowledgment != 0)
            return TransferStall.AcknowledgmentNotArriving;
        if (timeline.Unconfirmed == 0)
            return TransferStall.None;
        if (history.TimeSpanNs is { } span && (span.Last - transfer.LastTimeNs) / NsPerMs < 2 * timerMs)
            return TransferStall.CutOff;
        if (transfer.Acks.Count == 0)
            return timeline.Rounds.Count > 1 ? TransferStall.ReceiverSilent : TransferStall.CannotTell;     // after one round alone, an acknowledgment was missed
        BlockAcknowledgment last = transfer.Acks[^1];
        bool sentAgain = sent.Exists(segment => segment.TimeNs > last.TimeNs && (last.Block & (1u << segment.SegO)) == 0);
        return sentAgain ? timeline.RoundsWithoutProgress > 1 ? TransferStall.ReceiverSilent : TransferStall.CannotTell : TransferStall.SenderStopped;
    }

    /// <summary>Segments sent more than one retransmission timer after an acknowledgment that has them: time enough for it to come back.</summary>
    private static uint Resent(Transfer transfer, List<SegmentSent> sent, double timerMs)
    {
        Span<long> acknowledged = stackalloc long[32];
        acknowledged.Fill(long.MaxValue);
        foreach (BlockAcknowledgment ack in transfer.Acks)
            for (uint left = ack.Block & transfer.AllSegments; left != 0; left &= left - 1)
                acknowledged[BitOperations.TrailingZeroCount(left)] = Math.Min(acknowledged[BitOperations.TrailingZeroCount(left)], ack.TimeNs);
        uint resent = 0;
        foreach (SegmentSent segment in sent)
            if (acknowledged[segment.SegO] is not long.MaxValue and var since && (segment.TimeNs - since) / NsPerMs > timerMs)
                resent |= 1u << segment.SegO;
        return resent;
    }

    private static long LastNewSegment(List<SegmentSent> sent)
    {
        uint seen = 0;
        long last = long.MinValue;
        foreach (SegmentSent segment in sent)
        {
            if ((seen & (1u << segment.SegO)) == 0)
                last = Math.Max(last, segment.TimeNs);
            seen |= 1u << segment.SegO;
        }
        return last;
    }

    /// <summary>Between segments that follow each other in number and order.</summary>
    private static double? MedianIntervalMs(List<SegmentSent> sent)
    {
        List<double> intervals = [];
        for (int at = 1; at < sent.Count; at++)
            if (sent[at].SegO == sent[at - 1].SegO + 1 && sent[at].TimeNs >= sent[at - 1].TimeNs)
                intervals.Add((sent[at].TimeNs - sent[at - 1].TimeNs) / NsPerMs);
        intervals.Sort();
        return intervals.Count == 0 ? null : intervals[intervals.Count / 2];
    }

    private static double LongestSilenceMs(List<SegmentSent> sent)
    {
        double longest = 0;
        List<long> times = Sorted(sent.Select(segment => segment.TimeNs));
        for (int at = 1; at < times.Count; at++)
            longest = Math.Max(longest, (times[at] - times[at - 1]) / NsPerMs);
        return longest;
    }

    private static List<long> Sorted(IEnumerable<long> times)
    {
        List<long> sorted = [.. times];
        sorted.Sort();
        return sorted;
    }

    /// <summary>Index of the last one that is not later, or -1.</summary>
    private static int LastUpTo(List<long> sorted, long timeNs)
    {
        int low = 0, high = sorted.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (sorted[middle] <= timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low - 1;
    }
}
