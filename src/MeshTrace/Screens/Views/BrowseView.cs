using System.Drawing;
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
    protected override bool OnClearingViewport() => true;      // every cell is drawn below

    /// <inheritdoc />
    protected override bool OnDrawingContent(DrawContext? context)
    {
        Size size = Viewport.Size;
        IReadOnlyList<TextLine> lines = _browser.Compose(size.Width, size.Height);
        for (int y = 0; y < lines.Count; y++)
            DrawLine(y, lines[y], size.Width);
        return true;
    }

    private void DrawLine(int y, TextLine line, int columns)
    {
        Move(0, y);
        int width = 0;
        foreach (Cell cell in line.Cells)
        {
            SetAttribute(_palette.Of(cell.Tone, line.Selected));
            AddStr(cell.Text);
            width += DisplayWidth.Of(cell.Text);
        }
        if (width >= columns)
            return;
        SetAttribute(_palette.Of(Tone.Plain, line.Selected));
        Move(width, y);
        AddStr(new string(' ', columns - width));
    }

    /// <inheritdoc />
    protected override bool OnKeyDown(Key key)
    {
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
}
