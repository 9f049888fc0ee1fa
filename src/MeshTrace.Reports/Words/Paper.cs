using System.Globalization;
using System.Text;

namespace MeshTrace.Reports.Words;

/// <summary>One cell of a line: its words and what their colour stands for.</summary>
public readonly record struct Cell(string Text, Tone Tone = Tone.Plain);

/// <summary>
/// Sets words on a page of a given width: headings, wrapped paragraphs, and lines of columns. Another medium takes the same words by its own three methods.
/// </summary>
public class Paper
{
    private const string Glue = "\u00A0";       // between a number and its percent sign: they stay on one line
    public const int NarrowestColumns = 40, WidestColumns = 160;

    private readonly TextWriter _output;
    private readonly Ink _ink;
    private bool _begun;

    public Paper(TextWriter output, int columns, bool colour)
    {
        _output = output;
        _ink = new Ink(colour);
        Columns = Math.Clamp(columns, NarrowestColumns, WidestColumns);
    }

    public int Columns { get; }

    /// <summary>A heading with an empty line above it.</summary>
    public virtual void Heading(string text)
    {
        if (_begun)
            Raw("");
        Raw(_ink.Paint(text, Tone.Strong));
    }

    /// <summary>Words wrapped to the width; lines after the first stand under the words, not under the mark.</summary>
    public virtual void Paragraph(string text, string mark = "  ", Tone tone = Tone.Plain, Tone markTone = Tone.Plain)
    {
        int indent = DisplayWidth.Of(mark);
        bool first = true;
        foreach (string line in Wrap(text, Columns - indent))
        {
            Raw((first ? _ink.Paint(mark, markTone) : new string(' ', indent)) + _ink.Paint(line, tone));
            first = false;
        }
    }

    /// <summary>Cells one after the other; spaces at the end are left out.</summary>
    public virtual void Line(params ReadOnlySpan<Cell> cells)
    {
        int last = cells.Length - 1;
        while (last >= 0 && string.IsNullOrWhiteSpace(cells[last].Text))
            last--;
        for (int i = 0; i <= last; i++)
            _output.Write(_ink.Paint(i == last ? cells[i].Text.TrimEnd() : cells[i].Text, cells[i].Tone));
        Raw("");
    }

    private void Raw(string line)
    {
        _begun = true;
        _output.Write(line);
        _output.Write('\n');
    }

    /// <summary>The lines of a text at a width; a word longer than the line is broken between characters.</summary>
    internal static IEnumerable<string> Wrap(string text, int columns)
    {
        var line = new StringBuilder();
        int width = 0;
        foreach (string word in text.Replace(" %", Glue + "%", StringComparison.Ordinal).Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            string rest = word.Replace(Glue, " ", StringComparison.Ordinal);
            int wordWidth = DisplayWidth.Of(rest);
            if (width > 0 && width + 1 + wordWidth > columns)
            {
                yield return line.ToString();
                line.Clear();
                width = 0;
            }
            while (wordWidth > columns)     // a word longer than the line, such as a path: broken between characters
            {
                string head = Head(rest, columns);
                yield return head;
                rest = rest[head.Length..];
                wordWidth = DisplayWidth.Of(rest);
            }
            if (width > 0)
                line.Append(' ');
            line.Append(rest);
            width += wordWidth + (width > 0 ? 1 : 0);
        }
        if (line.Length > 0)
            yield return line.ToString();
    }

    private static string Head(string text, int columns)
    {
        int at = 0;
        while (at < text.Length)
        {
            int length = StringInfo.GetNextTextElementLength(text, at);
            if (at > 0 && DisplayWidth.Of(text[..(at + length)]) > columns)
                break;
            at += length;
        }
        return text[..at];
    }
}
