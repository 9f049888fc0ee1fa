using System.Numerics;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>Which segmented messages arrived, and which side stalled.</summary>
internal sealed class TransfersScreen(Workspace workspace) : Screen(workspace)
{
    private readonly Grid _grid = new(new("time", 8, 8), new("fate", 4, 4), new("from", 13, 26) { Middle = true }, new("to", 13, 26) { Middle = true }, new("message", 14, 40), new("heard", 8, 8, true), new("acks", 4, 4, true));
    private List<int> _rows = [];

    public override string Name => "Transfers";
    public override string Asks => "Which segmented messages arrived, and who stalled?";
    public override double RowsShare => 0.35;
    protected override string? Reason => Workspace.IsSettled ? null : "Transfers need the whole capture: still reading.";
    protected override string None => "No segmented message was heard.";

    public override IReadOnlyList<KeyWord> Keys => [new("Enter", "octets", "the octets of its first segment"), new("n N", "next stalled", "next or previous transfer that was not acknowledged as a whole")];

    public override IReadOnlyList<KeyWord> Marks =>
    [
        new("o r", "", "a segment when it was first heard, and when it was heard sent again"),
        new("a A X", "", "an acknowledgment: of some segments, of all, or a refusal"),
        new("OK", "", "every segment was acknowledged"),
        new("?", "", "this receiver heard all segments, but no acknowledgment of all"),
        new("PART", "", "not all segments were heard"),
        new("FAIL", "", "refused by the receiving node"),
    ];

    public override RecordPlace? Record => Transfer is { } row ? new RecordPlace(RecordKind.Transfer, row) : null;
    public override int? Frame => Transfer is { } row && Workspace.History.Transfers[row].Sent is [var sent, ..] ? FirstFrame.OfFlood(Workspace.History, sent.Flood) : null;

    public override IReadOnlyList<(char Key, string Says, Narrowing Only)> Choices
    {
        get
        {
            if (Transfer is not { } row)
                return [];
            Transfer transfer = Workspace.History.Transfers[row];
            var choices = new List<(char, string, Narrowing)> { ('n', $"node {Workspace.Account.Names.Short(transfer.Src)}", Workspace.Only with { Node = Workspace.History.Directory.NodeOf(transfer.Src) }) };
            choices.Add(transfer.Dst.IsUnicast
                ? ('d', $"node {Workspace.Account.Names.Short(transfer.Dst)}", Workspace.Only with { Node = Workspace.History.Directory.NodeOf(transfer.Dst) })
                : ('g', $"group {Workspace.Account.Names.Short(transfer.Dst)}", Workspace.Only with { Group = transfer.Dst }));
            return choices;
        }
    }

    protected override int Count => _rows.Count;

    private int? Transfer => Workspace.IsSettled && RowCount > 0 ? _rows[Selected] : null;

    protected override void Build()
    {
        _rows = [];
        if (!Workspace.IsSettled)
            return;
        for (int row = 0; row < Workspace.History.Transfers.Count; row++)
            if (Workspace.Only.Takes(Workspace.History, Workspace.History.Transfers[row]))
                _rows.Add(row);
    }

    public override void Enter()
    {
        Refresh();
        if (Workspace.Transfer is { } row && _rows.BinarySearch(row) is var at and >= 0)
            Place(at);
        else if (Workspace.IsSettled && Find(-1, 1) is { } stalled)
            Place(stalled);
        if (RowCount > 0)
            Workspace.ChooseTransfer(_rows[Selected]);
    }

    protected override void OnSelected(int row) => Workspace.ChooseTransfer(_rows[row]);

    public override IReadOnlyList<TextLine> Heading(int columns) => [_grid.Heading(columns)];

    public override TextLine Row(int row, int columns)
    {
        Account account = Workspace.Account;
        Transfer transfer = account.History.Transfers[_rows[row]];
        string what = TransferSection.What(account, transfer).TrimStart(',', ' ');
        return _grid.Row(columns, new Cell(Phrases.Clock(transfer.FirstTimeNs)), new Cell(TransferSection.MarkOf(transfer.Outcome), TransferSection.ToneOf(transfer.Outcome)),
            new Cell(account.Names.Short(transfer.Src)), new Cell(account.Names.Short(transfer.Dst)), new Cell(what.Length > 0 ? what : "not known"),
            new Cell($"{BitOperations.PopCount(transfer.Heard)} of {transfer.Segments}"), new Cell(Phrases.Number(transfer.Acks.Count)));
    }

    public override IReadOnlyList<TextLine> Account(int columns)
    {
        var lines = new Lines(columns);
        if (Transfer is { } row)
            TransferMap.Draw(lines, Workspace.Account, Workspace.History.Transfers[row]);
        return lines.All;
    }

    public override bool Take(Stroke stroke)
    {
        if (!stroke.Is('n') && !stroke.Is('N'))
            return false;
        if (Find(Selected, stroke.Is('n') ? 1 : -1) is { } row)
            Selected = row;
        return true;
    }

    public override bool Matches(int row, Words words)
    {
        Transfer transfer = Workspace.History.Transfers[_rows[row]];
        return words.AreIn(transfer.Src, transfer.Dst, null, TransferSection.What(Workspace.Account, transfer), TransferSection.MarkOf(transfer.Outcome));
    }

    private int? Find(int from, int step)
    {
        for (int row = from + step; row >= 0 && row < RowCount; row += step)
            if (Stalled(Workspace.History.Transfers[_rows[row]]))
                return row;
        return null;
    }

    /// <summary>To one node, every segment may be heard here and yet one not there: without an acknowledgment of all, it is to be looked at.</summary>
    private static bool Stalled(Transfer transfer) =>
        transfer.Outcome is TransferOutcome.Incomplete or TransferOutcome.Cancelled || (transfer.Outcome == TransferOutcome.AllHeard && transfer.Dst.IsUnicast);
}
