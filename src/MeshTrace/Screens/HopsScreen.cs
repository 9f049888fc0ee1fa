using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>How a flood spread and where it ended; and over the whole capture, which node relays for which.</summary>
internal sealed class HopsScreen(Workspace workspace) : Screen(workspace)
{
    private enum View
    {
        /// <summary>Floods of the press chosen: its requests and its answers.</summary>
        Press,
        All,
        Relays,
    }

    private readonly Grid _floods = new(new("time", 12, 12), new("what", 16, 34), new("from", 12, 24) { Middle = true }, new("to", 12, 24) { Middle = true }, new("copies", 6, 6, true), new("reach", 6, 7));
    private readonly Grid _relays = new(new("sent by", 12, 28) { Middle = true }, new("relayed by", 12, 28) { Middle = true }, new("floods", 7, 7, true), new("relay delay, median", 19, 22, true));
    private List<int> _rows = [];
    private List<RelayLink> _links = [];
    private View _view = View.Press;

    public override string Name => "Hops";
    public override string Asks => _view switch
    {
        View.Relays => "Who relays for whom?",
        View.All => "How did each PDU spread?",
        _ => "How did this press spread, and where did it end?",
    };

    public override double RowsShare => _view == View.Press ? 0.35 : 0.45;

    protected override string? Reason => !Workspace.IsSettled ? "Hops need the whole capture: still reading." : null;
    protected override string None => _view == View.Relays ? "No node was heard to relay for another, as far as senders can be named." : "No PDU was opened here: 'a' shows all floods.";

    public override IReadOnlyList<KeyWord> Keys =>
    [
        new("Enter", "octets", "the octets of its first copy"),
        new("a", _view == View.All ? "this press" : "all floods", "all floods, or only those of the press chosen"),
        new("g", _view == View.Relays ? "floods" : "relay graph", "which node relays for which, over the whole capture"),
    ];

    public override IReadOnlyList<KeyWord> Marks =>
    [
        new("END", "", "where the flood ended: TTL used up, or no relay heard"),
        new("silent", "", "a server that should act and was not heard to answer, with the step that rejects the message there"),
        new("(perhaps)", "", "the sender fits, but another node would fit as well"),
    ];

    public override RecordPlace? Record => Flood is { } row ? new RecordPlace(RecordKind.Flood, row) : null;
    public override int? Frame => Flood is { } row ? FirstFrame.OfFlood(Workspace.History, row) : null;

    public override IReadOnlyList<(char Key, string Says, Narrowing Only)> Choices
    {
        get
        {
            if (!Workspace.IsSettled || RowCount == 0)
                return [];
            if (_view == View.Relays)
                return [('n', $"node {Workspace.Account.Names.Short(_links[Selected].Relay)}", Workspace.Only with { Node = _links[Selected].Relay })];
            ref FloodRow flood = ref Workspace.History.Floods[_rows[Selected]];
            var choices = new List<(char, string, Narrowing)>();
            if (Workspace.Press is { } press)
                choices.Add(('p', "this press", Workspace.Only with { Press = press }));
            choices.Add(('n', $"node {Workspace.Account.Names.Short(flood.Src)}", Workspace.Only with { Node = Workspace.History.Directory.NodeOf(flood.Src) }));
            if (!flood.Dst.IsUnicast)
                choices.Add(('g', $"group {Workspace.Account.Names.Short(flood.Dst)}", Workspace.Only with { Group = flood.Dst }));
            return choices;
        }
    }

    protected override int Count => !Workspace.IsSettled ? 0 : _view == View.Relays ? _links.Count : _rows.Count;

    private int? Flood => Workspace.IsSettled && _view != View.Relays && RowCount > 0 ? _rows[Selected] : null;

    protected override void Build()
    {
        _rows = [];
        _links = [];
        if (!Workspace.IsSettled)
            return;
        CaptureHistory history = Workspace.History;
        if (_view == View.Relays)
            _links = [.. history.Hops.Links.Where(link => Workspace.Only.Node is not { } node || link.From == node || link.Relay == node)];
        else if (_view == View.Press && Workspace.Press is { } row)
            _rows = FloodsOf(history, history.Presses[row]);
        else
            for (int flood = 0; flood < history.Floods.Count; flood++)
                if (Workspace.Only.Takes(history, in history.Floods[flood]))
                    _rows.Add(flood);
    }

    public override void Enter()
    {
        if (_view == View.Press && Workspace.Press is null)
            _view = View.All;
        Renew();
        Refresh();
        if (Workspace.IsSettled && _view != View.Relays && Workspace.Flood is { } flood)
            Place(_rows.IndexOf(flood));
    }

    /// <summary>Shows the press chosen, whatever was shown here before.</summary>
    public void ShowPress() => _view = View.Press;

    /// <summary>Shows one flood among all.</summary>
    public void ShowFlood() => _view = View.All;

    protected override void OnSelected(int row)
    {
        if (_view != View.Relays)
            Workspace.ChooseFlood(_rows[row]);
    }

    public override IReadOnlyList<TextLine> Heading(int columns) => [(_view == View.Relays ? _relays : _floods).Heading(columns)];

    public override TextLine Row(int row, int columns)
    {
        Account account = Workspace.Account;
        if (_view == View.Relays)
        {
            RelayLink link = _links[row];
            return _relays.Row(columns, new Cell(account.Names.Short(link.From)), new Cell(account.Names.Short(link.Relay)), new Cell(Phrases.Number(link.Floods)),
                new Cell(HopWords.Delay(account.History.Hops, link.Relay)));
        }
        ref FloodRow flood = ref account.History.Floods[_rows[row]];
        return _floods.Row(columns, new Cell(Moment.Milli(flood.FirstTimeNs)), new Cell(FloodWords.Carries(account, _rows[row])), new Cell(account.Names.Short(flood.Src)),
            new Cell(account.Names.Short(flood.Dst)), new Cell(Phrases.Number(flood.Copies)), new Cell(FloodWords.Reach(account.History, _rows[row])));
    }

    public override IReadOnlyList<TextLine> Account(int columns)
    {
        var lines = new Lines(columns);
        if (!Workspace.IsSettled || RowCount == 0)
            return lines.All;
        Account account = Workspace.Account;
        if (_view == View.Relays)
        {
            lines.Say(HopWords.Distances(account.History.Hops));
            return [.. lines.All, .. HopWords.Graph(account, _links, columns)];
        }
        if (_view == View.Press && Workspace.Press is { } press)
            HopWords.SaySilent(lines, account, press);
        return [.. HopWords.Spread(account, _rows[Selected], columns), .. lines.All];
    }

    public override bool Take(Stroke stroke)
    {
        if (stroke.Is('a'))
            _view = _view == View.All && Workspace.Press is not null ? View.Press : View.All;
        else if (stroke.Is('g'))
            _view = _view != View.Relays ? View.Relays : Workspace.Press is null ? View.All : View.Press;
        else
            return false;
        Enter();
        return true;
    }

    public override bool Matches(int row, Words words)
    {
        if (!Workspace.IsSettled)
            return false;
        if (_view == View.Relays)
            return words.AreIn(_links[row].From, _links[row].Relay, null);
        ref FloodRow flood = ref Workspace.History.Floods[_rows[row]];
        return flood.Message is { } message && Workspace.History.Messages[message] is { Decrypted: true } opened
            ? words.AreIn(flood.Src, flood.Dst, (opened.IsControl, opened.Opcode)) : words.AreIn(flood.Src, flood.Dst, null);
    }

    private static List<int> FloodsOf(CaptureHistory history, Press press)
    {
        var rows = new List<int>();
        foreach (int message in press.Messages)
            rows.AddRange(history.FloodsOf(message));
        foreach (PressAnswer answer in press.Answers)
            rows.AddRange(history.FloodsOf(answer.Message));
        return rows;
    }
}
