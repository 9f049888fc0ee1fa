using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>A column: its heading, and whether it holds numbers.</summary>
internal readonly record struct Column(string Heading, bool IsNumber = false)
{
    public static implicit operator Column(string heading) => new(heading);
}

/// <summary>One cell: its words, and what their colour stands for.</summary>
internal readonly record struct GridCell(string Text, Tone Tone = Tone.Plain)
{
    public static implicit operator GridCell(string text) => new(text);
}

/// <summary>A table with caption and headed columns, that scrolls by itself where the screen is narrow. The first cell of a row is its heading.</summary>
internal sealed class Grid : IDisposable
{
    /// <summary>A word longer than this may be broken anywhere; shorter ones never are.</summary>
    private const int LongWord = 20;

    private readonly Markup _markup;
    private readonly Column[] _columns;

    public Grid(Markup markup, string caption, params Column[] columns)
    {
        _markup = markup;
        _columns = columns;
        // What scrolls must be reachable by keyboard (WCAG 2.1.1).
        markup.Open("div", ("class", "scroll"), ("tabindex", "0"), ("role", "region"), ("aria-label", caption));
        markup.Open("table").Element("caption", caption);
        markup.Open("thead").Open("tr");
        foreach (Column column in columns)
            markup.Element("th", column.Heading, ("scope", "col"), ("class", column.IsNumber ? "number" : "words"));
        markup.Close().Close().Open("tbody");
    }

    public void Row(params ReadOnlySpan<GridCell> cells)
    {
        _markup.Open("tr");
        for (int at = 0; at < cells.Length; at++)
        {
            string kind = (_columns[at].IsNumber ? "number " : "") + (HasLongWord(cells[at].Text) ? "long " : "") + Prose.ClassOf(cells[at].Tone);
            if (at == 0)
                _markup.Element("th", cells[at].Text, ("scope", "row"), ("class", kind));
            else
                _markup.Element("td", cells[at].Text, ("class", kind));
        }
        _markup.Close();
    }

    private static bool HasLongWord(string text)
    {
        int length = 0;
        foreach (char c in text)
        {
            length = c == ' ' ? 0 : length + 1;
            if (length > LongWord)
                return true;
        }
        return false;
    }

    /// <summary>Ends the table.</summary>
    public void Dispose() => _markup.Close().Close().Close();
}
