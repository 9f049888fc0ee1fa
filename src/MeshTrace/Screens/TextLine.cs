using System.Text;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>One line to draw: cells one after the other.</summary>
internal readonly record struct TextLine(IReadOnlyList<Cell> Cells, bool Selected = false)
{
    public static readonly TextLine Empty = new([]);

    public static TextLine Of(params ReadOnlySpan<Cell> cells) => new(cells.ToArray());

    public static TextLine Of(string text, Tone tone = Tone.Plain) => new([new Cell(text, tone)]);

    /// <summary>Terminal columns it takes.</summary>
    public int Width
    {
        get
        {
            int width = 0;
            foreach (Cell cell in Cells)
                width += DisplayWidth.Of(cell.Text);
            return width;
        }
    }

    /// <summary>The same, cut where it is wider than so many columns.</summary>
    public TextLine Cut(int columns)
    {
        if (Width <= columns)
            return this;
        var cells = new List<Cell>();
        int left = columns;
        foreach (Cell cell in Cells)
        {
            int width = DisplayWidth.Of(cell.Text);
            if (width <= left && (width < left || cells.Count == Cells.Count - 1))
            {
                cells.Add(cell);
                left -= width;
                continue;
            }
            cells.Add(cell with { Text = DisplayWidth.Cut(cell.Text.Length > 0 ? cell.Text + " " : "  ", left) });
            break;
        }
        return this with { Cells = cells };
    }

    /// <summary>The words alone.</summary>
    public override string ToString()
    {
        var text = new StringBuilder();
        foreach (Cell cell in Cells)
            text.Append(cell.Text);
        return text.ToString().TrimEnd();
    }
}

/// <summary>Collects lines: paragraphs wrapped to a width, and lines as they are.</summary>
internal sealed class Lines(int columns)
{
    private readonly List<TextLine> _lines = [];

    public int Columns => columns;
    public IReadOnlyList<TextLine> All => _lines;

    public void Add(TextLine line) => _lines.Add(line.Cut(columns));

    public void Add(params ReadOnlySpan<Cell> cells) => Add(TextLine.Of(cells));

    /// <summary>Words wrapped to the width; lines after the first stand under the words, not under the mark.</summary>
    public void Say(string text, string mark = "", Tone tone = Tone.Plain, Tone markTone = Tone.Plain)
    {
        int indent = DisplayWidth.Of(mark);
        bool first = true;
        foreach (string line in Paper.Wrap(text, Math.Max(8, columns - indent)))
        {
            _lines.Add(TextLine.Of(new Cell(first ? mark : new string(' ', indent), markTone), new Cell(line, tone)));
            first = false;
        }
    }

    /// <summary>Words wrapped beside cells; lines after the first stand under the words.</summary>
    public void Say(string text, params ReadOnlySpan<Cell> beside)
    {
        int indent = TextLine.Of(beside).Width;
        Cell[] first = beside.ToArray(), after = [new Cell(new string(' ', indent))];
        foreach (string line in Paper.Wrap(text, Math.Max(8, columns - indent)))
        {
            _lines.Add(TextLine.Of([.. first, new Cell(line)]));
            first = after;
        }
    }

    public void Gap()
    {
        if (_lines.Count > 0 && _lines[^1].Cells.Count > 0)
            _lines.Add(TextLine.Empty);
    }
}
