using MeshTrace.Analysis.Presses;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>Composes the lines: screens and narrowing on top, rows, account, keys.</summary>
internal sealed partial class Browser
{
    private const string SelectedMark = "> ", NotSelectedMark = "  ";

    private static readonly KeyWord[] CommonKeys =
    [
        new("1-7", "", "the screens; a click on their names does the same"),
        new("Up Down PgUp PgDn Home End", "", "move in the rows; the mouse wheel does the same"),
        new("Tab", "", "move in the account below instead, to read on; Tab again: back to the rows"),
        new("Esc", "back", "back to the screen before"),
        new("o", "only...", "show only this press, node or group, on all screens"),
        new("t", "time", "show only a range of time, on all screens"),
        new("u", "", "show everything again"),
        new("f", "find", "find a name, an address, a message or a finding; '.' finds the next one"),
        new("x", "octets", "the octets of the selected thing, layer by layer"),
        new("c", "copy", "copy the record of the selected thing (JSON) to the clipboard"),
        new("w", "", "write that record to a file"),
        new("?", "help", "this help"),
        new("Ctrl-L", "", "draw everything anew, where something else wrote on the terminal"),
        new("q", "quit", "leave; Ctrl-C too"),
    ];

    private PaneLayout _layout = PaneLayout.Of(PaneLayout.LeastColumns, PaneLayout.LeastLines, 1, 0, 0.5, 0);
    private int _rowsTop, _accountTop, _helpTop, _helpLines = 1;
    private bool _inAccount;

    /// <summary>All lines of a terminal of this size, each at most as wide as it is.</summary>
    public IReadOnlyList<TextLine> Compose(int columns, int lines)
    {
        NoteSettled();
        _message = _workspace.TakeNotice() ?? _message;
        var page = new TextLine[Math.Max(0, lines)];
        Array.Fill(page, TextLine.Empty);
        if (columns < PaneLayout.LeastColumns || lines < PaneLayout.LeastLines)
            ComposeTooSmall(page, columns, lines);
        else
        {
            page[0] = ScreenNames().Cut(columns);
            page[1] = State(columns);
            if (_helps)
                ComposeHelp(page, columns, lines);
            else
                ComposeScreen(page, columns, lines);
            page[lines - 1] = LastLine(columns);
        }
        return page;
    }

    private static void ComposeTooSmall(TextLine[] page, int columns, int lines)
    {
        string[] says = [$"MeshTrace needs {PaneLayout.LeastColumns} x {PaneLayout.LeastLines}.", $"This terminal: {columns} x {lines}.", "Make it larger.", "q quits."];
        for (int at = 0; at < Math.Min(lines, says.Length); at++)
            page[at] = TextLine.Of(says[at]).Cut(columns);
    }

    private TextLine ScreenNames()
    {
        var cells = new List<Cell>();
        for (int i = 0; i < _screens.Length; i++)
            cells.Add(i == _current ? new Cell($"[{i + 1} {_screens[i].Name}]", Tone.Strong) : new Cell($" {i + 1} {_screens[i].Name} ", Tone.Quiet));
        return new TextLine(cells);
    }

    /// <summary>How far the reading is, or what is shown of the whole.</summary>
    private TextLine State(int columns)
    {
        if (_workspace.Live is { } live)
            return Standing(live, columns).Cut(columns);
        if (!_workspace.IsSettled)
        {
            Reading.ReadingState reading = _workspace.Reading;
            string share = reading.Share is { } known ? $" {Phrases.Percent(known)}" : "";
            string read = reading.Share >= 1 ? " Everything is read; drawing conclusions." : "";
            return TextLine.Of(new Cell($" Reading{share}: ", Tone.Strong), new Cell($"{Phrases.Count(reading.Frames, "frame")}, {Phrases.Count(reading.Presses.Count, "press", "presses")} so far.{read}")).Cut(columns);
        }
        if (!_workspace.Only.IsNone)
            return TextLine.Of([new Cell(" ", Tone.Mixed), .. Only(columns - 1)]);
        Cell all = Damage() is { } damage ? new Cell($" {damage} ", Tone.Bad) : new Cell(" Everything is shown. ", Tone.Quiet);
        return TextLine.Of(all, new Cell(Summary(columns - DisplayWidth.Of(all.Text)))).Cut(columns);
    }

    /// <summary>What alone is shown, cut so that the key that undoes it always stands there.</summary>
    private IEnumerable<Cell> Only(int columns)
    {
        const string Mark = "ONLY ", Undo = "   u: everything";
        return [new Cell(Mark, Tone.Mixed), new Cell(DisplayWidth.Cut(_workspace.Only.Say(_workspace.Account), columns - Mark.Length - Undo.Length), Tone.Strong), new Cell(Undo, Tone.Quiet)];
    }

    /// <summary>What the file lacks, or null where it was read to its end.</summary>
    private string? Damage() => _workspace.History.Damages switch
    {
        [] => null,
        [var one] => $"DAMAGED at octet {Phrases.Number(one.Offset)}, shown up to there.",
        var several => $"{several.Count} FILES DAMAGED, shown up to there.",
    };

    /// <summary>The fate of the presses: in words where there is room, else by the marks that stand in the rows.</summary>
    private string Summary(int columns)
    {
        IReadOnlyList<Press> presses = _workspace.History.Presses;
        if (presses.Count == 0)
            return "No press was heard.";
        string words = GlanceSection.Presses(presses);
        if (DisplayWidth.Of(words) <= columns)
            return words;
        PressOutcome[] order = [PressOutcome.All, PressOutcome.Some, PressOutcome.None, PressOutcome.Unknown];
        IEnumerable<string> counts = order.Select(outcome => (Outcome: outcome, Count: presses.Count(press => press.Outcome == outcome))).Where(one => one.Count > 0)
            .Select(one => $"{Phrases.Number(one.Count)} {PressSection.MarkOf(one.Outcome)}");
        return $"{Phrases.Count(presses.Count, "press", "presses")}: {string.Join(", ", counts)}";
    }

    /// <summary>How a live run stands, and what is shown of it.</summary>
    private TextLine Standing(Reading.LiveStanding live, int columns)
    {
        var cells = new List<Cell> { live.HasEnded ? new Cell(" ENDED ", Tone.Mixed) : new Cell(" LIVE ", Tone.Good) };
        if (_workspace.IsSettled && !_workspace.Only.IsNone)
            cells.AddRange([.. Only(columns - cells[0].Text.Length), new Cell("  ")]);
        cells.Add(new Cell(Phrases.Count(live.State.Frames, "frame")));
        if (live.State.Lost + live.State.LostBefore is > 0 and var lost)
            cells.Add(new Cell($", {Phrases.Number(lost)} lost by overload", Tone.Bad));
        if (live.State.Waiting > 0)
            cells.Add(new Cell($", {Phrases.Number(live.State.Waiting)} waiting"));
        if (_workspace.IsSettled)
            cells.Add(new Cell("; " + (_workspace.History.Presses.Count > 0 ? Summary(columns - new TextLine(cells).Width - 2) : "no press yet.")));
        return new TextLine(cells);
    }

    private void ComposeScreen(TextLine[] page, int columns, int lines)
    {
        Screen screen = Current;
        int count = screen.RowCount, selected = screen.Selected;
        int width = columns - SelectedMark.Length;
        IReadOnlyList<TextLine> heading = screen.Heading(width);
        IReadOnlyList<TextLine> account = screen.Account(columns - 2);
        IReadOnlyList<TextLine> nothing = count == 0 ? Nothing(screen, width) : [];
        _layout = PaneLayout.Of(columns, lines, heading.Count, count + nothing.Count, screen.RowsShare, account.Count);

        for (int at = 0; at < heading.Count; at++)
            page[_layout.Heading + at] = Indented(heading[at], columns);
        _rowsTop = Math.Clamp(_rowsTop, Math.Max(0, selected - _layout.RowLines + 1), Math.Max(0, selected));
        _rowsTop = Math.Clamp(_rowsTop, 0, Math.Max(0, count - _layout.RowLines));
        for (int at = 0; at < _layout.RowLines && _rowsTop + at < count; at++)
        {
            int row = _rowsTop + at;
            TextLine line = screen.Row(row, width);
            page[_layout.Rows + at] = new TextLine([new Cell(row == selected ? SelectedMark : NotSelectedMark, Tone.Strong), .. line.Cells], row == selected).Cut(columns);
        }
        for (int at = 0; at < Math.Min(nothing.Count, _layout.RowLines); at++)
            page[_layout.Rows + at] = Indented(nothing[at], columns);

        _accountTop = Math.Clamp(_accountTop, 0, Math.Max(0, account.Count - _layout.AccountLines));
        page[_layout.Account - 1] = Separator(screen, count, selected, account.Count, columns);
        for (int at = 0; at < _layout.AccountLines && _accountTop + at < account.Count; at++)
            page[_layout.Account + at] = Indented(account[_accountTop + at], columns);
    }

    private static IReadOnlyList<TextLine> Nothing(Screen screen, int columns)
    {
        var lines = new Lines(columns);
        lines.Say(screen.Nothing, tone: Tone.Quiet);
        return lines.All;
    }

    private static TextLine Indented(TextLine line, int columns) => line.Cells.Count == 0 ? line : new TextLine([new Cell(NotSelectedMark), .. line.Cells]).Cut(columns);

    private TextLine Separator(Screen screen, int count, int selected, int accountLines, int columns)
    {
        string place = count == 0 ? "" : $" {Phrases.Number(selected + 1)} of {Phrases.Number(count)} ──";
        string more = accountLines > _layout.AccountLines
            ? _inAccount ? $" lines {_accountTop + 1}-{Math.Min(accountLines, _accountTop + _layout.AccountLines)} of {accountLines} " : $" Tab: {Phrases.Count(accountLines - _layout.AccountLines, "more line")} " : "";
        string left = $"── {screen.Asks} ──{place}";
        int fill = Math.Max(0, columns - DisplayWidth.Of(left) - DisplayWidth.Of(more) - 2);
        return TextLine.Of(new Cell(left, Tone.Strong), new Cell(new string('─', fill), Tone.Strong), new Cell(more, _inAccount ? Tone.Strong : Tone.Quiet), new Cell("──", Tone.Strong)).Cut(columns);
    }

    private TextLine LastLine(int columns)
    {
        if (_prompt is { IsChoice: false } prompt)
        {
            string text = prompt.Text;
            int room = Math.Max(10, columns - DisplayWidth.Of(prompt.Asks) - 3);
            while (DisplayWidth.Of(text) > room)
                text = text[1..];
            return TextLine.Of(new Cell(" " + prompt.Asks, Tone.Strong), new Cell(text + "_")).Cut(columns);
        }
        if (_prompt is { } choice)
            return TextLine.Of(new Cell(" " + choice.Asks, Tone.Strong), new Cell("   Esc: no", Tone.Quiet)).Cut(columns);
        if (_message is { } message)
            return TextLine.Of(new Cell(" " + message, Tone.Mixed)).Cut(columns);
        if (_helps)
            return TextLine.Of(new Cell(" Any key closes this help; Up and Down move in it.", Tone.Quiet));
        var cells = new List<Cell>();
        int left = columns - 1;
        foreach (KeyWord key in Current.Keys.Concat(CommonKeys.OrderBy(key => key.Key is "?" or "q" ? 0 : 1)))
        {
            int width = DisplayWidth.Of(key.Key) + DisplayWidth.Of(key.Short) + 3;
            if (key.Short.Length == 0 || width > left)
                continue;
            left -= width;
            cells.Add(new Cell(" " + key.Key, Tone.Strong));
            cells.Add(new Cell(" " + key.Short + " ", Tone.Quiet));
        }
        return new TextLine(cells);
    }

    private void ComposeHelp(TextLine[] page, int columns, int lines)
    {
        const int KeyColumn = 14;
        var help = new Lines(columns - 4);
        help.Say($"{Current.Name}: {Current.Asks}", tone: Tone.Strong);
        foreach (KeyWord key in Current.Keys)
            help.Say(key.Says, DisplayWidth.Fit(key.Key, KeyColumn), markTone: Tone.Strong);
        if (Current.Marks.Count > 0)
        {
            help.Gap();
            help.Say("What the marks mean", tone: Tone.Strong);
            foreach (KeyWord mark in Current.Marks)
                help.Say(mark.Says, DisplayWidth.Fit(mark.Key, KeyColumn), markTone: Tone.Strong);
        }
        help.Gap();
        help.Say("On every screen", tone: Tone.Strong);
        foreach (KeyWord key in CommonKeys)
            help.Say(key.Says, key.Key.Length < KeyColumn ? DisplayWidth.Fit(key.Key, KeyColumn) : key.Key + "  ", markTone: Tone.Strong);
        _helpLines = lines - 4;
        _helpTop = Math.Clamp(_helpTop, 0, Math.Max(0, help.All.Count - _helpLines));
        for (int at = 0; at < _helpLines && _helpTop + at < help.All.Count; at++)
            page[3 + at] = Indented(help.All[_helpTop + at], columns);
    }

    private static void Scroll(ref int top, Motion motion, int page)
    {
        top = motion switch
        {
            Motion.Up => top - 1,
            Motion.Down => top + 1,
            Motion.PageUp => top - page,
            Motion.PageDown => top + page,
            Motion.Home => 0,
            Motion.End => int.MaxValue / 2,
            _ => top,
        };
        top = Math.Max(0, top);
    }

    /// <summary>A click: on a screen's name, a row, or the account. A double click goes where Enter goes.</summary>
    public void Click(int column, int line, bool twice)
    {
        NoteSettled();
        _message = null;
        if (_prompt is not null || _helps)
        {
            _prompt = null;
            _helps = false;
            return;
        }
        if (line == 0)
        {
            int end = 0;
            for (int i = 0; i < _screens.Length; i++)
            {
                end += DisplayWidth.Of(_screens[i].Name) + 4;
                if (column >= end)
                    continue;
                GoTo(i);
                return;
            }
        }
        else if (line >= _layout.Rows && line < _layout.Rows + _layout.RowLines && _rowsTop + line - _layout.Rows < Current.RowCount)
        {
            _inAccount = false;
            Select(_rowsTop + line - _layout.Rows);
            Current.Click(column - SelectedMark.Length);
            if (twice)
                GoDeeper();
        }
        else if (line >= _layout.Account && line < _layout.Last)
            _inAccount = true;
    }

    /// <summary>The wheel moves what the pointer is on.</summary>
    public void Wheel(int line, bool down)
    {
        Motion motion = down ? Motion.Down : Motion.Up;
        if (_helps)
            Scroll(ref _helpTop, motion, 1);
        else if (line >= _layout.Account)
            Scroll(ref _accountTop, motion, 1);
        else
            Move(motion);
    }
}
