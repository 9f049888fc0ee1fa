using System.Numerics;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Transfer;

/// <summary>The sender repeats segments, is not answered any more, and stops (Mesh Protocol 1.1 §3.5.3.3).</summary>
internal sealed class TransferGivenUp : IFindingRule
{
    /// <summary>Rounds of the same segments after the last progress (ours).</summary>
    private const int EnoughRounds = 2;

    /// <summary>After fewer rounds than these a sender rather has its acknowledgment than gives up: the chance that it was missed has to be small (ours).</summary>
    private const int ManyRounds = 3;

    /// <summary>So many rounds are all that a sender makes (common practice, no source): it did not stop early because an answer came.</summary>
    private const int AllRounds = 4;

    /// <summary>An answer to the message itself shows that it arrived: it comes within the timeout of an acknowledged message (§3.7.4.2).</summary>
    private const double LongestAnswerMs = 30_000;

    /// <summary>Transfers of one sender that all stopped after the same number of rounds, its longest: that is its limit (ours).</summary>
    private const int EnoughAlike = 3;

    public string Id => "transfer-given-up";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var cases = new TransferCases();
        for (int row = 0; row < history.Timelines.Count; row++)
            if (history.Timelines[row] is { Stall: TransferStall.ReceiverSilent, RoundsWithoutProgress: >= EnoughRounds } timeline
                && ReassemblyTimedOut.MissChance(history, findings.Weighing, row) is null && MissChance(history, findings.Weighing, timeline) is { } missed)
                cases.Add(history, row, Confidence.Possible, missed);
        foreach (TransferCase found in cases.All)
        {
            double missed = found.MissChance(history);
            Confidence? confidence = Weighing.Of(missed) is null && AllRoundsMade(history, found) ? Confidence.Possible
                : findings.Weighing.Judge(Id, history.Directory.NodeOf(found.Dst), missed);
            if (confidence == Confidence.Possible && missed >= Weighing.LikelyBelow && found.Transfers.TrueForAll(row => history.Timelines[row].RoundsWithoutProgress < ManyRounds))
                continue;
            if (confidence is { } judged)
                Tell(history, findings, found, judged);
        }
    }

    /// <summary>
    /// All acknowledgments before failed to stop the sender: the chance that the one that did was missed. Null where the receivers were deaf, or an answer
    /// shows that the message arrived.
    /// </summary>
    private static double? MissChance(CaptureHistory history, Weighing weighing, TransferTimeline timeline)
    {
        Analysis.Transfers.Transfer transfer = history.Transfers[timeline.Transfer];
        MeshAddress receiver = history.Directory.NodeOf(transfer.Dst);
        long from = timeline.Rounds[^1].FirstNs, to = TransferCases.Later(TransferCases.LastSegmentNs(timeline), timeline.Rounds[^1].TimerMs);
        bool arrived = history.ReceptionProofs.HighestBefore(receiver, transfer.Src, TransferCases.Later(transfer.LastTimeNs, LongestAnswerMs)) is { } proof
            && proof.Seq == transfer.Seq && proof.IvIndex == transfer.IvIndex;
        return arrived || history.Deafness.IsDeaf(from, to) ? null : weighing.MissChance(receiver, 1, from, to);
    }

    /// <summary>The sender stopped because it had made all its rounds, not because an acknowledgment came.</summary>
    private static bool AllRoundsMade(CaptureHistory history, TransferCase found)
    {
        int longest = history.Timelines.Where(timeline => history.Transfers[timeline.Transfer].Src == found.Src).Max(timeline => timeline.Rounds.Count);
        return found.Transfers.Exists(row => history.Timelines[row].Rounds.Count >= AllRounds)
            || found.Transfers.Count(row => history.Timelines[row].Rounds.Count == longest) >= EnoughAlike;
    }

    private void Tell(CaptureHistory history, FindingSink findings, TransferCase found, Confidence confidence)
    {
        Analysis.Transfers.Transfer transfer = history.Transfers[found.First];
        TransferTimeline timeline = history.Timelines[found.First];
        int confirmed = transfer.Segments - BitOperations.PopCount(timeline.Unconfirmed);
        string heard = transfer.Acks.Count == 0 ? "no acknowledgment of it was heard" : $"{confirmed} of its segments were acknowledged";
        findings.Add(Id, confidence, transfer.FirstTimeNs, history.Directory.NodeOf(found.Dst), null,
            $"{history.Called(found.Src)} sent {TransferCases.Sized(transfer)} to {history.Called(found.Dst)} in {timeline.Rounds.Count} rounds, {heard}, and it {(confidence == Confidence.Possible ? "seems to have given" : "gave")} up{found.Often(history)}.",
            found.Evidence);
    }
}
