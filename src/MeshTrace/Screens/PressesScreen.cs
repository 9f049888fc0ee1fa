using MeshTrace.Analysis.Presses;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;
using MeshTrace.Screens.Reading;

namespace MeshTrace.Screens;

/// <summary>Which presses were lost, and why: one line each, the account of the selected one below.</summary>
internal sealed class PressesScreen(Workspace workspace) : Screen(workspace)
{
    private readonly Grid _grid = new(new("time", 8, 8), new("from", 14, 26) { Middle = true }, new("to", 12, 26) { Middle = true }, new("asked", 5, 16), new("fate", 4, 4),
        new("reach", 6, 7), new("answers", 15, 48));

    private List<int> _rows = [];
    private IReadOnlyList<PressLine> _early = [];
    private bool _entered;

    public override string Name => "Presses";
    public override string Asks => "Which presses were lost, and why?";
    protected override string? Reason => Workspace.IsSettled ? null : "No press yet: still reading.";
    protected override string None => "No press was heard: no message asks a lamp or another server to change.";

    public override IReadOnlyList<KeyWord> Keys =>
    [
        new("Enter", "its hops", "how the press spread, and where it died"),
        new("n N", "next lost", "next or previous press that was not answered by all"),
    ];

    public override IReadOnlyList<KeyWord> Marks =>
        [.. Enum.GetValues<PressOutcome>().Select(outcome => new KeyWord(PressSection.MarkOf(outcome), "", PressSection.Meaning(outcome)))];

    public override RecordPlace? Record => Press is { } row ? new RecordPlace(RecordKind.Press, row) : null;
    public override int? Frame => Press is { } row && Workspace.History.Presses[row].Messages is [var message, ..] ? FirstFrame.OfMessage(Workspace.History, message) : null;

    public override IReadOnlyList<(char Key, string Says, Narrowing Only)> Choices
    {
        get
        {
            if (Press is not { } row)
                return [];
            Press press = Workspace.History.Presses[row];
            var choices = new List<(char, string, Narrowing)>
            {
                ('p', "this press", Workspace.Only with { Press = row }),
                ('n', $"node {Workspace.Account.Names.Short(press.Src)}", Workspace.Only with { Node = Workspace.History.Directory.NodeOf(press.Src) }),
            };
            if (press.Dst.IsUnicast)
                choices.Add(('d', $"node {Workspace.Account.Names.Short(press.Dst)}", Workspace.Only with { Node = Workspace.History.Directory.NodeOf(press.Dst) }));
            else
                choices.Add(('g', $"group {Workspace.Account.Names.Short(press.Dst)}", Workspace.Only with { Group = press.Dst }));
            return choices;
        }
    }

    protected override int Count => Workspace.IsSettled ? _rows.Count : _early.Count;

    private int? Press => Workspace.IsSettled && RowCount > 0 ? _rows[Selected] : null;

    protected override void Build()
    {
        if (!Workspace.IsSettled)
        {
            _early = Workspace.Reading.Presses;
            return;
        }
        _rows = [];
        for (int row = 0; row < Workspace.History.Presses.Count; row++)
            if (Workspace.Only.Takes(Workspace.History, row, Workspace.History.Presses[row]))
                _rows.Add(row);
        if (Workspace.Press is { } press)
            Place(_rows.BinarySearch(press));
    }

    public override void Enter()
    {
        Refresh();
        if (!Workspace.IsSettled)
            return;
        if (Workspace.Press is { } press && _rows.BinarySearch(press) is var at and >= 0)
            Place(at);
        else if (!_entered && Find(-1, 1) is { } lost)
            Place(lost);        // opens on what the visitor came for
        _entered = true;
        if (_rows.Count > 0)
            Workspace.ChoosePress(_rows[Selected]);
    }

    protected override void OnSelected(int row)
    {
        if (Workspace.IsSettled)
            Workspace.ChoosePress(_rows[row]);
    }

    public override IReadOnlyList<TextLine> Heading(int columns) => [_grid.Heading(columns)];

    public override TextLine Row(int row, int columns)
    {
        PressLine line = Workspace.IsSettled ? PressWords.LineOf(Workspace.Account, Workspace.History.Presses[_rows[row]]) : _early[row];
        return _grid.Row(columns, new Cell(Phrases.Clock(line.TimeNs)), new Cell(line.From), new Cell(line.To), new Cell(line.Asks),
            new Cell(PressSection.MarkOf(line.Outcome), PressSection.ToneOf(line.Outcome)), new Cell(line.Reach), new Cell(line.Detail));
    }

    public override IReadOnlyList<TextLine> Account(int columns)
    {
        if (Press is { } row)
            return PressWords.AccountOf(Workspace.Account, row, columns);
        var lines = new Lines(columns);
        if (!Workspace.IsSettled)
            lines.Say("The account of a press needs the whole capture; it comes as soon as everything is read.", tone: Tone.Quiet);
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
        if (!Workspace.IsSettled)
            return words.AreIn(null, null, null, _early[row].From, _early[row].To, _early[row].Asks);
        Press press = Workspace.History.Presses[_rows[row]];
        string findings = press.Findings.Count == 0 ? "" : string.Join(' ', press.Findings.Select(at => $"{Workspace.History.Findings[at].Id} {Workspace.History.Findings[at].Says}"));
        return words.AreIn(press.Src, press.Dst, null, press.Name, press.Asks, PressSection.MarkOf(press.Outcome), findings);
    }

    /// <summary>The next row in a direction whose press was not answered by everyone who should.</summary>
    private int? Find(int from, int step)
    {
        for (int row = from + step; row >= 0 && row < Count; row += step)
        {
            PressOutcome outcome = Workspace.IsSettled ? Workspace.History.Presses[_rows[row]].Outcome : _early[row].Outcome;
            if (outcome is PressOutcome.None or PressOutcome.Some)
                return row;
        }
        return null;
    }
}
