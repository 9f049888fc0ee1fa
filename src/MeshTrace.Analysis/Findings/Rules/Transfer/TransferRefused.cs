using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.Findings.Rules.Transfer;

/// <summary>An acknowledgment with block 0: the receiver cannot take the message now (Mesh Protocol 1.1 §3.5.2.3.1).</summary>
internal sealed class TransferRefused : IFindingRule
{
    public string Id => "transfer-refused";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var cases = new TransferCases();
        for (int row = 0; row < history.Transfers.Count; row++)
            if (history.Transfers[row].Outcome == TransferOutcome.Cancelled)
                cases.Add(history, row, Confidence.Certain);
        foreach (TransferCase found in cases.All)
        {
            Analysis.Transfers.Transfer transfer = history.Transfers[found.First];
            BlockAcknowledgment ack = transfer.Acks.Find(one => one.Block == 0);
            string who = ack.OnBehalf ? $"{history.Called(ack.From)}, the Friend of {history.Called(found.Dst)}," : history.Called(found.Dst);
            int busy = OthersUnderWay(history, found.First, ack.TimeNs);
            string why = busy == 0 ? "" : busy == 1 ? "; another transfer to it was under way" : $"; {busy} other transfers to it were under way";
            findings.Add(Id, Confidence.Certain, ack.TimeNs, history.Directory.NodeOf(ack.From), null,
                $"{who} refused {TransferCases.Sized(transfer)} from {history.Called(found.Src)}{found.Often(history)}{why}.",
                [.. found.Evidence, new Evidence("flood", ack.Flood)]);
        }
    }

    /// <summary>Transfers to the same receiver that had begun and were heard of after.</summary>
    private static int OthersUnderWay(CaptureHistory history, int row, long timeNs)
    {
        int busy = 0;
        for (int other = 0; other < history.Transfers.Count; other++)
            if (other != row && history.Transfers[other] is { Outcome: not TransferOutcome.Cancelled } one && one.Dst == history.Transfers[row].Dst
                && one.FirstTimeNs <= timeNs && one.LastTimeNs >= timeNs)
                busy++;
        return busy;
    }
}
