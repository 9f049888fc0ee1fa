using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Transfer;

/// <summary>The receiver acknowledges, and the sender repeats what was acknowledged: the way back does not work.</summary>
internal sealed class AcknowledgmentNotArriving : IFindingRule
{
    /// <summary>Rounds that repeat acknowledged segments: one acknowledgment alone may be lost anywhere (ours).</summary>
    private const int EnoughRounds = 2;

    /// <summary>A round that begins sooner than this share of the timer after the acknowledgment may have been on its way already (ours).</summary>
    private const double SoonAfter = 0.5;

    public string Id => "acknowledgment-not-arriving";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        TransferCases sure = new(), once = new();
        for (int row = 0; row < history.Timelines.Count; row++)
        {
            TransferTimeline timeline = history.Timelines[row];
            if (timeline.ResentAfterAcknowledgment == 0)
                continue;
            (int inVain, bool full) = RoundsInVain(history.Transfers[row], timeline);
            if (inVain >= EnoughRounds)
                sure.Add(history, row, full ? Confidence.Likely : Confidence.Possible);
            else if (inVain > 0 && full)
                once.Add(history, row, Confidence.Possible);
        }
        foreach (TransferCase found in sure.All)
            Tell(history, findings, found);
        foreach (TransferCase found in once.All)
            if (found.Transfers.Count >= EnoughRounds && sure.All.All(told => told.Src != found.Src || told.Dst != found.Dst))
                Tell(history, findings, found);
    }

    /// <summary>
    /// Rounds that begin well after the acknowledgment and repeat what it names; one of them at least by more than the retransmission timer. A full
    /// acknowledgment has to stop the sender; after one with holes it may be its habit to send all again, so that counts only where several were in vain and
    /// no later one was full and stopped it.
    /// </summary>
    private static (int Rounds, bool Full) RoundsInVain(Analysis.Transfers.Transfer transfer, TransferTimeline timeline)
    {
        int best = 0, lost = 0;
        foreach (BlockAcknowledgment ack in transfer.Acks)
        {
            if (ack.TimeNs == CapturedFrame.NoTime)
                continue;
            uint block = ack.Block & transfer.AllSegments;
            int rounds = Count(ack, block);
            if (block == transfer.AllSegments)
                return (rounds, true);
            best = Math.Max(best, rounds);
            lost += rounds > 0 ? 1 : 0;
        }
        return transfer.Outcome == TransferOutcome.Acknowledged || lost < EnoughRounds ? (0, false) : (best, false);

        int Count(BlockAcknowledgment ack, uint block) =>
            timeline.Rounds.Count(round => (round.Segments & block) != 0 && round.FirstNs > TransferCases.Later(ack.TimeNs, SoonAfter * round.TimerMs));
    }

    private void Tell(CaptureHistory history, FindingSink findings, TransferCase found)
    {
        Analysis.Transfers.Transfer transfer = history.Transfers[found.First];
        MeshAddress receiver = history.Directory.NodeOf(found.Dst);
        BlockAcknowledgment ack = transfer.Acks[0];
        byte ttl = history.Floods[ack.Flood].HighestTtl;
        findings.Add(Id, found.Confidence, ack.TimeNs, receiver, null,
            $"{history.Called(found.Dst)} acknowledged {TransferCases.Sized(transfer)} from {history.Called(found.Src)}, which goes on repeating acknowledged segments{found.Often(history)}: "
            + "the acknowledgments do not come back to it.",
            [.. found.Evidence, new Evidence("flood", ack.Flood)],
            $"See that acknowledgments of {history.Called(found.Dst)} get back to {history.Called(found.Src)}: they were heard with TTL {ttl} at most; raise its Default TTL, or put a relay in that direction.");
    }
}
