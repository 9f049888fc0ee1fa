using System.Text;
using MeshTrace.Reports.Words;
using Terminal.Gui.Drawing;
using Terminal.Gui.Drivers;
using Attribute = Terminal.Gui.Drawing.Attribute;
using Cell = Terminal.Gui.Drawing.Cell;

namespace MeshTrace.Screens.Views;

/// <summary>
/// Sends the cells that changed, all in one piece. The library's own way sends each run of cells, and each way to one, by itself: a full screen in hundreds
/// of pieces, which a terminal far away may show one by one; and it makes links of whatever looks like an address in a node's name.
/// </summary>
internal sealed class FrameOutput : AnsiOutput
{
    private const string PlainAgain = "\e[0m";      // ECMA-48 §8.3.117 SGR

    private readonly StringBuilder _frame = new();

    public FrameOutput()
    {
        IsLegacyConsole = true;     // what is no text is not looked for
        Force16Colors = true;       // the terminal's own colours, which its owner can read
    }

    /// <inheritdoc />
    public override void Write(IOutputBuffer buffer)
    {
        if (buffer.Contents is not { } cells)
            return;
        Attribute? last = null;
        TextStyle style = TextStyle.None;
        for (int y = 0; y < buffer.Rows; y++)
        {
            if (!buffer.DirtyLines[y])
                continue;
            buffer.DirtyLines[y] = false;
            int cursor = -1;        // where the terminal is, or -1 where that is not known for sure
            for (int x = 0; x < buffer.Cols; x++)
            {
                ref Cell cell = ref cells[y, x];
                if (!cell.IsDirty)
                    continue;
                cell.IsDirty = false;
                if (_frame.Length == 0)
                    _frame.Append(PlainAgain);
                bool sure = OneColumn.Holds(cell.Grapheme);
                if (cursor != x || !sure)
                    GoTo(x, y);
                if (cell.Attribute is { } attribute && attribute != last)
                {
                    AppendOrWriteAttribute(_frame, attribute, style);
                    last = attribute;
                    style = attribute.Style;
                }
                cursor = x + 1;
                if (sure)
                {
                    _frame.Append(cell.Grapheme);
                    continue;
                }
                // Terminals do not agree on how wide such letters are: their room is cleared first, and what follows is put at its own place.
                int width = Math.Clamp(DisplayWidth.Of(cell.Grapheme), 1, buffer.Cols - x);
                _frame.Append(' ', width);
                GoTo(x, y);
                _frame.Append(cell.Grapheme);
                cursor = -1;
                while (--width > 0)
                    cells[y, ++x].IsDirty = false;      // covered
            }
        }
        if (_frame.Length > 0)
            Write(_frame);
        _frame.Clear();
        base.Write(buffer);     // finds nothing left to send, but what was sent before is not kept longer than until the next time
    }

    /// <summary>Moves the cursor (§8.3.21 CUP).</summary>
    private void GoTo(int x, int y) => _frame.Append("\e[").Append(y + 1).Append(';').Append(x + 1).Append('H');
}
