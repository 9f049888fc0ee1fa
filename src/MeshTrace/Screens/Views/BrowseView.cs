using System.Globalization;
using MeshTrace.Reports.Words;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;

namespace MeshTrace.Screens.Views;

/// <summary>Draws what the browser composes into the cells of a terminal, and hands it keys and clicks.</summary>
internal sealed class BrowseView(Browser browser, Palette palette)
{
    private DrawnLine[] _drawn = [];
    private Terminal.Gui.Drawing.Cell[,]? _cells;

    /// <summary>True while something may have changed since the last drawing.</summary>
    public bool NeedsDraw { get; private set; } = true;

    /// <summary>True if Ctrl-C ended it.</summary>
    public bool IsInterrupted { get; private set; }

    /// <summary>True once the user wants to leave.</summary>
    public bool IsOver => IsInterrupted || browser.IsDone;

    /// <summary>What is shown has changed.</summary>
    public void SetNeedsDraw() => NeedsDraw = true;

    /// <summary>Draws what differs from the last time.</summary>
    public void Draw(IOutputBuffer buffer)
    {
        NeedsDraw = false;
        IReadOnlyList<TextLine> lines = browser.Compose(buffer.Cols, buffer.Rows);
        // The buffer takes other cells when it forgets what was drawn: another size, or a screen that something else wrote on.
        if (_drawn.Length != lines.Count || !ReferenceEquals(_cells, buffer.Contents))
            _drawn = new DrawnLine[lines.Count];
        _cells = buffer.Contents;
        for (int y = 0; y < lines.Count; y++)
            _drawn[y] = DrawLine(buffer, y, lines[y], _drawn[y]);
    }

    /// <summary>
    /// Draws what differs from what stands there: to send a cell takes far longer than to compare it. A line with letters that terminals do not agree on is
    /// drawn whole: how it stands there, nobody knows cell by cell.
    /// </summary>
    private DrawnLine DrawLine(IOutputBuffer buffer, int y, TextLine line, DrawnLine before)
    {
        if (before.Cells is not null && before.Selected == line.Selected && before.Cells.SequenceEqual(line.Cells))
            return before;
        bool plain = true;
        foreach (Cell cell in line.Cells)
            plain &= OneColumn.Are(cell.Text);
        bool keeping = plain && before is { Cells: not null, Plain: true };
        int width = 0;
        foreach (Cell cell in line.Cells)
        {
            buffer.CurrentAttribute = palette.Of(cell.Tone, line.Selected);
            width += DrawText(buffer, width, y, cell.Text, keeping);
        }
        buffer.CurrentAttribute = palette.Of(Tone.Plain, line.Selected);
        Put(buffer, width, y, new string(' ', Math.Max(0, buffer.Cols - width)), keeping);
        return new DrawnLine(line.Cells, line.Selected, plain);
    }

    /// <summary>Draws text at a place and returns the columns it takes.</summary>
    private static int DrawText(IOutputBuffer buffer, int x, int y, string text, bool keeping)
    {
        if (OneColumn.Are(text))
        {
            Put(buffer, x, y, text, keeping);
            return text.Length;
        }
        // The library gives at least a column to whatever it draws, and counts some clusters otherwise: each is put where it belongs.
        int first = x, last = -1;
        string before = "";
        for (int at = 0; at < text.Length;)
        {
            string cluster = text.Substring(at, StringInfo.GetNextTextElementLength(text, at));
            at += cluster.Length;
            int width = DisplayWidth.Of(cluster);
            if (width == 0)
            {
                // Directional isolates are kept in the cell of the letter beside them; anything else without a width has nothing to be seen.
                if (cluster == DisplayWidth.BeginIsolate)
                    before = cluster;
                else if (cluster == DisplayWidth.EndIsolate && last >= 0)
                    Attach(buffer, last, y, "", cluster);
                continue;
            }
            buffer.Move(x, y);
            buffer.AddStr(cluster);
            if (before.Length > 0)
                Attach(buffer, x, y, before, "");
            before = "";
            last = x;
            x += width;
        }
        return x - first;
    }

    private static void Attach(IOutputBuffer buffer, int x, int y, string before, string after)
    {
        if (buffer.Contents is not { } cells || y >= cells.GetLength(0) || x >= cells.GetLength(1))
            return;
        Terminal.Gui.Drawing.Cell cell = cells[y, x];
        cells[y, x] = new Terminal.Gui.Drawing.Cell(cell.Attribute, cell.IsDirty, before + cell.Grapheme + after);
    }

    /// <summary>Puts letters of one column each where they belong. The library's way takes a cell some microseconds and makes several strings.</summary>
    /// <param name="keeping">Leave what stands there already. Only where the whole line is of such letters, and was: others may have pushed it aside.</param>
    private static void Put(IOutputBuffer buffer, int x, int y, ReadOnlySpan<char> text, bool keeping)
    {
        if (buffer.Contents is not { } cells || y >= cells.GetLength(0))
            return;
        Terminal.Gui.Drawing.Attribute attribute = buffer.CurrentAttribute;
        int end = Math.Min(text.Length, cells.GetLength(1) - x);
        for (int at = 0; at < end; at++)
        {
            ref Terminal.Gui.Drawing.Cell cell = ref cells[y, x + at];
            string letter = OneColumn.Text(text[at]);
            if (keeping && cell.Attribute == attribute && cell.Grapheme == letter)
                continue;
            cell = new Terminal.Gui.Drawing.Cell(attribute, true, letter);
            buffer.DirtyLines[y] = true;
        }
    }

    public void Take(Key key)
    {
        if (key == Key.C.WithCtrl)
            IsInterrupted = true;
        else if (StrokeOf(key) is { } stroke)
            browser.Take(stroke);
        SetNeedsDraw();
    }

    public void Take(Mouse mouse)
    {
        (int x, int y) = (mouse.ScreenPosition.X, mouse.ScreenPosition.Y);
        if (mouse.Flags.HasFlag(MouseFlags.WheeledDown) || mouse.Flags.HasFlag(MouseFlags.WheeledUp))
            browser.Wheel(y, mouse.Flags.HasFlag(MouseFlags.WheeledDown));
        else if (mouse.Flags.HasFlag(MouseFlags.LeftButtonDoubleClicked))
            browser.Click(x, y, twice: true);
        else if (mouse.Flags.HasFlag(MouseFlags.LeftButtonClicked))
            browser.Click(x, y, twice: false);
        else
            return;
        SetNeedsDraw();
    }

    public void Paste(string text)
    {
        browser.Paste(text);
        SetNeedsDraw();
    }

    private static Stroke? StrokeOf(Key key)
    {
        Motion motion = (key.KeyCode & ~KeyCode.ShiftMask) switch
        {
            KeyCode.CursorUp => Motion.Up,
            KeyCode.CursorDown => Motion.Down,
            KeyCode.CursorLeft => Motion.Left,
            KeyCode.CursorRight => Motion.Right,
            KeyCode.PageUp => Motion.PageUp,
            KeyCode.PageDown => Motion.PageDown,
            KeyCode.Home => Motion.Home,
            KeyCode.End => Motion.End,
            KeyCode.Enter => Motion.Enter,
            KeyCode.Backspace => Motion.Back,
            KeyCode.Esc => Motion.Escape,
            KeyCode.Tab => Motion.Tab,
            _ => Motion.None,
        };
        if (motion != Motion.None)
            return motion;
        return key.IsCtrl || key.IsAlt || key.AsRune is not { Value: >= ' ' } rune ? null : new Stroke(Motion.None, rune);
    }

    /// <summary>What stands on a line of the terminal.</summary>
    /// <param name="Cells">As drawn, or null where nothing was drawn yet.</param>
    /// <param name="Selected">Drawn as selected, over the whole width.</param>
    /// <param name="Plain">All its letters take one column, whoever counts.</param>
    private readonly record struct DrawnLine(IReadOnlyList<Cell>? Cells, bool Selected, bool Plain);
}
