using MeshTrace.Analysis.Transfers;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>Segmented messages: those that did not arrive first chosen, all in order of time.</summary>
internal static class TransferPart
{
    private const int MostRows = 300;

    public static void Write(PageDraft draft)
    {
        IReadOnlyList<Transfer> transfers = draft.History.Transfers;
        if (transfers.Count == 0)
        {
            draft.Says("No segmented message was heard.");
            return;
        }
        List<int> shown = [.. Enumerable.Range(0, transfers.Count).OrderBy(row => Rank(transfers[row].Outcome)).Take(MostRows).Order()];
        using (var grid = new Grid(draft.Markup, "Segmented messages, times in UTC", new Column("No.", true), "Time", "Fate", "From", "To", "Message", "How it went"))
        {
            foreach (int row in shown)
            {
                Transfer transfer = transfers[row];
                string message = TransferSection.What(draft.Account, transfer);
                grid.Row(Phrases.Number(row + 1), $"{Phrases.Day(transfer.FirstTimeNs)} {Phrases.Clock(transfer.FirstTimeNs)}", new GridCell(TransferSection.MarkOf(transfer.Outcome), TransferSection.ToneOf(transfer.Outcome)),
                    draft.Name(transfer.Src), draft.Name(transfer.Dst), message.Length > 0 ? message.TrimStart(',', ' ') : "not known", TransferSection.Fate(transfer));
            }
        }
        draft.LeftOut(transfers.Count - shown.Count, "transfers", "those that arrived whole first; 'meshtrace records --only transfer' gives all");
        draft.SaysQuietly("OK: acknowledged whole. ?: this receiver heard all segments, and nobody said whether the node did. PART: not all segments were heard, nor acknowledged. FAIL: the receiving node cancelled it.");
    }

    private static int Rank(TransferOutcome outcome) => outcome is TransferOutcome.Incomplete or TransferOutcome.Cancelled ? 0 : 1;
}
