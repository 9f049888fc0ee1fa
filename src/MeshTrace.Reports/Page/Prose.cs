using System.Text;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>
/// Takes the account's words and sets them as elements: what begins with a dash becomes a list, what is set further in stays with the point above it. The
/// first heading is left out, because the part of the page has one.
/// </summary>
internal sealed class Prose(Markup markup) : Paper(TextWriter.Null, WidestColumns, colour: false)
{
    private const int FurtherIn = 4;

    private bool _begun, _inList, _subheading;

    /// <summary>True where nothing was said.</summary>
    public bool IsEmpty { get; private set; } = true;

    public override void Heading(string text)
    {
        EndList();
        if (_begun)
        {
            markup.Element("h3", text);
            _subheading = true;
        }
        _begun = true;
    }

    public override void Paragraph(string text, string mark = "  ", Tone tone = Tone.Plain, Tone markTone = Tone.Plain)
    {
        IsEmpty = false;
        _begun = true;
        string sign = mark.Trim();
        if (sign == "-")
        {
            if (_inList)
                markup.Close();     // the point before
            else
                markup.Open("ul");
            _inList = true;
            markup.Open("li", ("class", ClassOf(markTone)));
            markup.Element("p", text, ("class", ClassOf(tone)));
            return;
        }
        bool within = sign.Length == 0 && mark.Length >= FurtherIn;
        if (!within)
            EndList();
        markup.Open("p", ("class", (within && !_inList ? "in " : sign == "!" ? "note " : "") + ClassOf(tone)));
        if (sign == "!")
            markup.Element("b", "Note: ", ("class", ClassOf(markTone)));
        else if (sign.Length > 0)
            markup.Element("span", sign, ("class", "mark " + ClassOf(markTone))).Text(" ");
        markup.Text(text).Close();
    }

    public override void Line(params ReadOnlySpan<Cell> cells)
    {
        IsEmpty = false;
        _begun = true;
        EndList();
        var words = new StringBuilder();
        foreach (Cell cell in cells)
            words.Append(cell.Text);
        bool title = cells.Length == 1 && cells[0].Tone == Tone.Strong;
        markup.Element(!title ? "p" : _subheading ? "h4" : "h3", words.ToString().Trim());
    }

    /// <summary>Ends what is still open.</summary>
    public void End() => EndList();

    public static string ClassOf(Tone tone) => tone switch
    {
        Tone.Strong => "strong",
        Tone.Quiet => "quiet",
        Tone.Good => "good",
        Tone.Mixed => "mixed",
        Tone.Bad => "bad",
        _ => "plain",
    };

    private void EndList()
    {
        if (!_inList)
            return;
        markup.Close().Close();
        _inList = false;
    }
}
