using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;
using MeshTrace.Screens.Reading;

namespace MeshTrace.Screens;

/// <summary>What each node did when: a lane a node, time across.</summary>
internal sealed class TimelinesScreen(Workspace workspace) : Screen(workspace)
{
    private enum Order
    {
        Address,
        Name,
        Hops,
    }

    private const int LeastNames = 12, MostNames = 26, MostListed = 200;
    private const double ZoomFactor = 4;

    private List<MeshAddress> _lanes = [];
    private TimeWindow _whole, _window;
    private long _cursorNs;
    private int _canvas = 60, _names = LeastNames;
    private Order _order;
    private bool _hasTimes;

    public override string Name => "Timelines";
    public override string Asks => "Who did what when?";
    public override double RowsShare => 0.65;

    protected override string? Reason => !Workspace.IsSettled ? "Timelines need the whole capture: still reading." : _hasTimes ? null : "This capture tells no times.";
    protected override string None => "No node is known: none was heard, and no description names any.";

    public override IReadOnlyList<KeyWord> Keys =>
    [
        new("← →", "cursor", "move the cursor by one column"),
        new("+ -", "zoom", "zoom in and out around the cursor, from the whole capture to a millisecond"),
        new("n N", "next fault", "to the next or previous press that was not answered by all"),
        new("z", "press", "zoom to the press chosen"),
        new("0", "", "the whole capture, or the whole range of time chosen"),
        new("< >", "", "half a window earlier or later"),
        new("s", "", $"order of the lanes: by address, name, hops from the selected node (now: {OrderWord})"),
        new("Enter", "hops", "how the PDU nearest to the cursor spread"),
    ];

    public override IReadOnlyList<KeyWord> Marks =>
        [.. Enum.GetValues<Deed>().Where(deed => deed != Deed.None).Reverse().Select(deed => new KeyWord(DeedWords.Mark(deed).ToString(), "", DeedWords.Meaning(deed))), new("x N", "", "in the band on top: no receiver listened; a note from the field")];

    public override RecordPlace? Record => Flood is { } row ? new RecordPlace(RecordKind.Flood, row) : null;
    public override int? Frame => Flood is { } row ? FirstFrame.OfFlood(Workspace.History, row) : null;

    public override IReadOnlyList<(char Key, string Says, Narrowing Only)> Choices => Workspace.IsSettled && RowCount > 0
        ? [('n', $"node {Workspace.Account.Names.Short(_lanes[Selected])}", Workspace.Only with { Node = _lanes[Selected] }),
            ('t', "the time shown", Workspace.Only with { Time = (_window.FromNs, _window.ToNs) })]
        : [];

    protected override int Count => _lanes.Count;

    private string OrderWord => _order switch { Order.Name => "name", Order.Hops => "hops", _ => "address" };

    /// <summary>The flood of the selected lane nearest to the cursor, or null.</summary>
    public int? Flood
    {
        get
        {
            if (!Workspace.IsSettled || RowCount == 0)
                return null;
            ReadOnlySpan<NodeDeed> deeds = Workspace.Tracks.Of(_lanes[Selected]);
            int at = FirstFrom(deeds, _cursorNs);
            if (at > 0 && (at == deeds.Length || _cursorNs - deeds[at - 1].TimeNs < deeds[at].TimeNs - _cursorNs))
                at--;
            return at < deeds.Length ? deeds[at].Flood : null;
        }
    }

    protected override void Build()
    {
        _lanes = [];
        if (!Workspace.IsSettled || Workspace.History.TimeSpanNs is not { } span)
            return;
        _hasTimes = true;
        TimeWindow whole = Workspace.Only.Time is { } only ? new TimeWindow(Math.Max(only.From, span.First), Math.Min(only.To, span.Last)) : new TimeWindow(span.First, span.Last);
        if (whole.LengthNs < TimeWindow.ShortestNs)
            whole = new TimeWindow(whole.FromNs, whole.FromNs + TimeWindow.ShortestNs);
        if (whole != _whole)
        {
            // While a run goes on, the whole grows: what is looked at closely stays.
            bool stays = Workspace.Live is not null && _whole.LengthNs > 0 && _window != _whole && _window.FromNs >= whole.FromNs && _window.ToNs <= whole.ToNs;
            _whole = whole;
            if (!stays)
                _window = whole;
        }
        _cursorNs = Math.Clamp(_cursorNs, _window.FromNs, _window.ToNs);
        MeshAddress? selected = Workspace.Node;
        _lanes = [.. Workspace.History.Nodes.Where(node => Workspace.Only.Takes(Workspace.History, node)).Select(node => node.Unicast)];
        if (_order == Order.Name)
            _lanes = [.. _lanes.OrderBy(Workspace.Account.Names.Short, StringComparer.OrdinalIgnoreCase)];
        else if (_order == Order.Hops && selected is { } from)
        {
            Dictionary<MeshAddress, int> hops = HopsFrom(from);
            _lanes = [.. _lanes.OrderBy(node => hops.GetValueOrDefault(node, int.MaxValue))];
        }
        if (selected is { } chosen)
            Place(_lanes.IndexOf(chosen));
    }

    public override void Enter()
    {
        Renew();
        Refresh();
        if (Workspace.TimeNs is { } time && _hasTimes && time >= _whole.FromNs && time <= _whole.ToNs)
            GoTo(time);
    }

    protected override void OnSelected(int row) => Workspace.ChooseNode(_lanes[row]);

    public override void Follow(RowFollowing following, RecordPlace? chosen, int selected)
    {
        // the lane follows its node, and the cursor its time
    }

    private void GoTo(long timeNs)
    {
        _cursorNs = Math.Clamp(timeNs, _whole.FromNs, _whole.ToNs);
        _window = _window.Show(_cursorNs, _whole);
        Workspace.ChooseTime(_cursorNs);
    }

    public override IReadOnlyList<TextLine> Heading(int columns)
    {
        if (!Workspace.IsSettled || !_hasTimes)
            return [TextLine.Empty];
        _names = Math.Clamp(_lanes.Count == 0 ? 0 : _lanes.Max(node => DisplayWidth.Of(Workspace.Account.Names.Short(node))), LeastNames, Math.Min(MostNames, columns / 5));
        _canvas = columns - _names - 1;
        int cursor = _window.ColumnOf(_cursorNs, _canvas);
        double columnNs = (double)_window.LengthNs / _canvas;
        string length = columnNs < 1e6 ? $"{columnNs / 1e3:F0} µs" : Phrases.Duration(columnNs / 1e6);
        string left = Ends(_window.FromNs), right = Ends(_window.ToNs);
        char[] band = new string('─', _canvas).ToCharArray();
        for (int at = 0; at < _canvas; at++)
            if (Workspace.History.Deafness.IsDeaf(_window.TimeOf(at, _canvas), _window.TimeOf(at + 1, _canvas)))
                band[at] = 'x';
        foreach (PlacedNote note in Workspace.History.Notes.Notes)
            if (note.TimeNs is { } time && _window.ColumnOf(time, _canvas) is >= 0 and var column)
                band[column] = 'N';
        if (cursor >= 0)
            band[cursor] = '▼';
        return
        [
            TextLine.Of(new Cell(DisplayWidth.Fit($"by {OrderWord}", _names + 1), Tone.Quiet), new Cell(left), new Cell(Middle($"a column is {length}", _canvas - left.Length - right.Length), Tone.Quiet), new Cell(right)),
            TextLine.Of(new Cell(DisplayWidth.Fit("hearing", _names + 1), Tone.Quiet), new Cell(new string(band), Tone.Quiet)),
        ];
    }

    /// <summary>As exact as a column is.</summary>
    private string Ends(long timeNs) => _window.LengthNs / _canvas < 1_000_000 ? Moment.Micro(timeNs) : Moment.Milli(timeNs);

    private static string Middle(string text, int columns)
    {
        string cut = DisplayWidth.Cut(text, Math.Max(0, columns - 2));
        int before = (columns - DisplayWidth.Of(cut)) / 2;
        return new string(' ', before) + cut + new string(' ', columns - before - DisplayWidth.Of(cut));
    }

    public override TextLine Row(int row, int columns)
    {
        MeshAddress node = _lanes[row];
        var best = new Deed[_canvas];
        ReadOnlySpan<NodeDeed> deeds = Workspace.Tracks.Of(node);
        for (int at = FirstFrom(deeds, _window.FromNs); at < deeds.Length && deeds[at].TimeNs <= _window.ToNs; at++)
        {
            ref Deed cell = ref best[_window.ColumnOf(deeds[at].TimeNs, _canvas)];
            if (deeds[at].Deed > cell)
                cell = deeds[at].Deed;
        }
        int cursor = _window.ColumnOf(_cursorNs, _canvas);
        var cells = new List<Cell> { new(DisplayWidth.Fit(Workspace.Account.Names.Short(node), _names) + " ") };
        for (int at = 0; at < _canvas;)
        {
            int first = at;
            Tone tone = DeedWords.ToneOf(best[at]);
            var marks = new System.Text.StringBuilder();
            for (; at < _canvas && DeedWords.ToneOf(best[at]) == tone; at++)
                marks.Append(best[at] == Deed.None ? at == cursor ? '│' : ' ' : DeedWords.Mark(best[at]));
            cells.Add(new Cell(marks.ToString(), tone));
            if (at == first)
                break;
        }
        return new TextLine(cells);
    }

    public override void Click(int column)
    {
        if (column > _names && column - _names - 1 < _canvas)
            SetCursor(column - _names - 1);
    }

    private void SetCursor(int column)
    {
        int at = Math.Clamp(column, 0, _canvas - 1);
        _cursorNs = _window.TimeOf(at, _canvas) + (_window.LengthNs / _canvas / 2);
        if (column < 0 || column >= _canvas)
            _window = _window.Shift((column < 0 ? -1 : 1) * _window.LengthNs / 4, _whole);
        Workspace.ChooseTime(_cursorNs);
    }

    public override IReadOnlyList<TextLine> Account(int columns)
    {
        var lines = new Lines(columns);
        if (!Workspace.IsSettled || RowCount == 0)
            return lines.All;
        int column = Math.Max(0, _window.ColumnOf(_cursorNs, _canvas));
        long from = _window.TimeOf(column, _canvas), to = Math.Max(from, _window.TimeOf(column + 1, _canvas) - 1);
        lines.Say($"The cursor is at {Moment.Micro(_cursorNs)}; its column reaches from {Moment.Micro(from)} to {Moment.Micro(to)}.", tone: Tone.Strong);
        SayDeafness(lines, from, to);
        foreach (PlacedNote note in Workspace.History.Notes.Notes)
            if (note.TimeNs >= from && note.TimeNs <= to)
                lines.Say($"{Moment.Milli(note.TimeNs.Value)}  noted at {note.Note.Where}: {(note.Note.Words.Length > 0 ? note.Note.Words : "pressed")}", "  N ", markTone: Tone.Strong);
        IEnumerable<(MeshAddress Node, NodeDeed Deed)> here = At(from, to, out long all);
        foreach ((MeshAddress node, NodeDeed deed) in here)
            lines.Say($"{DeedWords.Verb(deed.Deed)} {What(deed)}", new Cell($"{Moment.Milli(deed.TimeNs)}  "), new Cell(DeedWords.Mark(deed.Deed) + " ", DeedWords.ToneOf(deed.Deed)),
                new Cell(DisplayWidth.Fit(Workspace.Account.Names.Short(node), _names) + " "));
        if (all == 0)
            lines.Say("Nothing was heard of these nodes here.", tone: Tone.Quiet);
        else if (all > MostListed)
            lines.Say($"{Phrases.Number(all - MostListed)} more: zoom in.", tone: Tone.Quiet);
        return lines.All;
    }

    private void SayDeafness(Lines lines, long from, long to)
    {
        foreach (DeafSpan span in Workspace.History.Deafness.Spans)
        {
            if (span.ToNs < from || span.FromNs > to)
                continue;
            string lost = span.Reason == DeafReason.RecorderLost ? $"its recorder lost {Phrases.Count(span.Lost, "packet")}" : "it heard nothing";
            lines.Say($"Receiver {span.Receiver + 1}, {Moment.Milli(span.FromNs)} to {Moment.Milli(span.ToNs)}: {lost}.", "  x ", markTone: Tone.Mixed);
        }
    }

    private string What(NodeDeed deed)
    {
        ref FloodRow flood = ref Workspace.History.Floods[deed.Flood];
        string from = deed.Deed == Deed.Relayed ? $" of {Workspace.Account.Names.Short(flood.Src)}" : "";
        return $"{FloodWords.Carries(Workspace.Account, deed.Flood)}{from} to {Workspace.Account.Names.Short(flood.Dst)}";
    }

    /// <summary>What the lanes shown did between two times: the earliest, and how much there is altogether.</summary>
    private IEnumerable<(MeshAddress Node, NodeDeed Deed)> At(long fromNs, long toNs, out long all)
    {
        var here = new List<(MeshAddress Node, NodeDeed Deed)>();
        all = 0;
        foreach (MeshAddress node in _lanes)
        {
            ReadOnlySpan<NodeDeed> deeds = Workspace.Tracks.Of(node);
            int first = FirstFrom(deeds, fromNs), end = FirstFrom(deeds, toNs + 1);
            all += end - first;
            foreach (NodeDeed deed in deeds[first..Math.Min(end, first + MostListed)])
                here.Add((node, deed));
        }
        return here.OrderBy(one => one.Deed.TimeNs).Take(MostListed);
    }

    public override bool Take(Stroke stroke)
    {
        if (!_hasTimes || !Workspace.IsSettled)
            return false;
        int column = _window.ColumnOf(_cursorNs, _canvas);
        switch (stroke)
        {
            case { Motion: Motion.Left }: SetCursor(column - 1); return true;
            case { Motion: Motion.Right }: SetCursor(column + 1); return true;
            case { Motion: not Motion.None }: return false;
        }
        switch ((char)Math.Min(stroke.Letter.Value, char.MaxValue))
        {
            case '+' or '=': _window = _window.Zoom(1 / ZoomFactor, _cursorNs, _whole); return true;
            case '-': _window = _window.Zoom(ZoomFactor, _cursorNs, _whole); return true;
            case '<': _window = _window.Shift(-_window.LengthNs / 2, _whole); _cursorNs = Math.Clamp(_cursorNs, _window.FromNs, _window.ToNs); return true;
            case '>': _window = _window.Shift(_window.LengthNs / 2, _whole); _cursorNs = Math.Clamp(_cursorNs, _window.FromNs, _window.ToNs); return true;
            case '0': _window = _whole; return true;
            case 'n': GoToFault(1); return true;
            case 'N': GoToFault(-1); return true;
            case 'z': ZoomToPress(); return true;
            case 's':
                _order = (Order)(((int)_order + 1) % 3);
                Renew();
                return true;
            default: return false;
        }
    }

    private void GoToFault(int step)
    {
        IReadOnlyList<Press> presses = Workspace.History.Presses;
        int count = presses.Count;
        for (int i = 0; i < count; i++)
        {
            int row = step > 0 ? i : count - 1 - i;
            Press press = presses[row];
            if (press.Outcome is not (PressOutcome.None or PressOutcome.Some) || !Workspace.Only.Takes(Workspace.History, row, press)
                || (step > 0 ? press.TimeNs <= _cursorNs : press.TimeNs >= _cursorNs))
                continue;
            Workspace.ChoosePress(row);
            Place(_lanes.IndexOf(Workspace.History.Directory.NodeOf(press.Src)));
            GoTo(press.TimeNs);
            return;
        }
    }

    private void ZoomToPress()
    {
        const long beforeNs = 100_000_000, afterNs = 1_500_000_000;
        if (Workspace.Press is not { } row)
            return;
        long time = Workspace.History.Presses[row].TimeNs;
        _window = new TimeWindow(time - beforeNs, time + afterNs).Shift(0, _whole);
        GoTo(time);
    }

    public override bool Matches(int row, Words words) => words.AreIn(_lanes[row], null, null);

    /// <summary>Hops between nodes over the relays seen; a breadth-first walk.</summary>
    private Dictionary<MeshAddress, int> HopsFrom(MeshAddress start)
    {
        var hops = new Dictionary<MeshAddress, int> { [start] = 0 };
        ILookup<MeshAddress, MeshAddress> next = Workspace.History.Hops.Links.ToLookup(link => link.From, link => link.Relay);
        var waiting = new Queue<MeshAddress>([start]);
        while (waiting.TryDequeue(out MeshAddress node))
            foreach (MeshAddress relay in next[node])
                if (hops.TryAdd(relay, hops[node] + 1))
                    waiting.Enqueue(relay);
        return hops;
    }

    private static int FirstFrom(ReadOnlySpan<NodeDeed> deeds, long timeNs)
    {
        int low = 0, high = deeds.Length;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (deeds[middle].TimeNs < timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }
}
