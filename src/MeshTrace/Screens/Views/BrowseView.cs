using System.Drawing;
using System.Globalization;
using MeshTrace.Reports.Words;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;
using Terminal.Gui.ViewBase;
using Terminal.Gui.Views;

namespace MeshTrace.Screens.Views;

/// <summary>Draws what the browser composes, and hands it keys and clicks.</summary>
internal sealed class BrowseView : Runnable
{
    private readonly Browser _browser;
    private readonly Palette _palette;
    private DrawnLine[] _drawn = [];
    private Terminal.Gui.Drawing.Cell[,]? _cells;

    public BrowseView(Browser browser, Palette palette)
    {
        _browser = browser;
        _palette = palette;
        Width = Dim.Fill();
        Height = Dim.Fill();
        CanFocus = true;
        Cursor = new Cursor();      // nothing is edited in place
    }

    /// <inheritdoc />
    protected override bool OnClearingViewport() => true;      // every cell that changes is drawn below

    /// <inheritdoc />
    protected override bool OnDrawingContent(DrawContext? context)
    {
        Size size = Viewport.Size;
        IReadOnlyList<TextLine> lines = _browser.Compose(size.Width, size.Height);
        // The driver takes other cells when it forgets what it has drawn: another size, or a screen to be cleared.
        if (_drawn.Length != lines.Count || !ReferenceEquals(_cells, App?.Driver?.Contents))
            _drawn = new DrawnLine[lines.Count];
        _cells = App?.Driver?.Contents;
        for (int y = 0; y < lines.Count; y++)
            _drawn[y] = DrawLine(y, lines[y], size.Width, _drawn[y]);
        return true;
    }

    /// <summary>Draws what differs from what stands there: to draw a cell and to send it takes far longer than to compare it.</summary>
    private DrawnLine DrawLine(int y, TextLine line, int columns, DrawnLine before)
    {
        int same = before.SameCells(line), width = 0;
        for (int at = 0; at < same; at++)
            width += line.Cells[at].Text.Length;
        if (before.Cells is not null && before.Selected == line.Selected && same == line.Cells.Count && same == before.Cells.Count)
            return before;
        Move(width, y);
        for (int at = same; at < line.Cells.Count; at++)
        {
            SetAttribute(_palette.Of(line.Cells[at].Tone, line.Selected));
            width += DrawText(width, y, line.Cells[at].Text);
        }
        int until = before.Cells is null || line.Selected || before.Selected ? columns : Math.Min(columns, before.Width);
        if (width < until)
        {
            SetAttribute(_palette.Of(Tone.Plain, line.Selected));
            Move(width, y);
            AddStr(new string(' ', until - width));
        }
        return new DrawnLine(line.Cells, line.Selected, width);
    }

    /// <summary>Draws text at a place and returns the columns it takes.</summary>
    private int DrawText(int x, int y, string text)
    {
        if (text.All(IsOneColumn))
        {
            AddStr(text);
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
                    Attach(last, y, "", cluster);
                continue;
            }
            Move(x, y);
            AddStr(cluster);
            if (before.Length > 0)
                Attach(x, y, before, "");
            before = "";
            last = x;
            x += width;
        }
        Move(x, y);
        return x - first;
    }

    private void Attach(int x, int y, string before, string after)
    {
        if (App?.Driver?.Contents is not { } cells || y >= cells.GetLength(0) || x >= cells.GetLength(1))
            return;
        Terminal.Gui.Drawing.Cell cell = cells[y, x];
        cells[y, x] = new Terminal.Gui.Drawing.Cell(cell.Attribute, cell.IsDirty, before + cell.Grapheme + after);
    }

    /// <summary>Letters before the combining marks (U+0300), punctuation and dashes, arrows, lines and blocks: one column each, whoever counts.</summary>
    private static bool IsOneColumn(char letter) => letter is < '\u0300' or >= '\u2010' and <= '\u2027' or >= '\u2190' and <= '\u22FF' or >= '\u2500' and <= '\u25FC';

    /// <inheritdoc />
    protected override bool OnKeyDown(Key key)
    {
        if (key == Key.L.WithCtrl)
        {
            SetNeedsDraw();
            App?.LayoutAndDraw(forceRedraw: true);      // something else wrote on the terminal
            return true;
        }
        if (key == Key.C.WithCtrl)
        {
            App?.RequestStop();
            IsInterrupted = true;
            return true;
        }
        if (StrokeOf(key) is { } stroke)
            _browser.Take(stroke);
        if (_browser.IsDone)
            App?.RequestStop();
        SetNeedsDraw();
        return true;        // no key has another meaning: Esc, for one, would end the program
    }

    /// <summary>True if Ctrl-C ended it.</summary>
    public bool IsInterrupted { get; private set; }

    /// <inheritdoc />
    protected override bool OnMouseEvent(Mouse mouse)
    {
        if (mouse.Position is not { } position)
            return false;
        if (mouse.Flags.HasFlag(MouseFlags.WheeledDown) || mouse.Flags.HasFlag(MouseFlags.WheeledUp))
            _browser.Wheel(position.Y, mouse.Flags.HasFlag(MouseFlags.WheeledDown));
        else if (mouse.Flags.HasFlag(MouseFlags.LeftButtonDoubleClicked))
            _browser.Click(position.X, position.Y, twice: true);
        else if (mouse.Flags.HasFlag(MouseFlags.LeftButtonClicked))
            _browser.Click(position.X, position.Y, twice: false);
        else
            return false;
        SetNeedsDraw();
        return true;
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
    /// <param name="Width">Columns that the cells take.</param>
    private readonly record struct DrawnLine(IReadOnlyList<Cell>? Cells, bool Selected, int Width)
    {
        /// <summary>How many cells at the beginning of another line stand there already. Wide characters are drawn anew: half of one cannot be kept.</summary>
        public int SameCells(TextLine line)
        {
            if (Cells is null || Selected != line.Selected)
                return 0;
            int same = 0;
            while (same < Cells.Count && same < line.Cells.Count && Cells[same] == line.Cells[same] && DisplayWidth.Of(Cells[same].Text) == Cells[same].Text.Length)
                same++;
            return same;
        }
    }
}
