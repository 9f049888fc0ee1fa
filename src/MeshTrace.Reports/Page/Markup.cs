using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Unicode;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>
/// The one writer of the page. It can write nothing but elements whose names stand in this program, escaped attribute values, escaped text, and the two
/// constants <see cref="PageStyle"/> and <see cref="PageScript"/>: whatever stands in a capture or a description comes out as text.
/// </summary>
internal sealed class Markup(TextWriter output, INames names)
{
    /// <summary>Longer texts are cut: nothing that says something to a reader is.</summary>
    public const int LongestText = 4000;

    private const char FirstStrongIsolate = '\u2068', PopDirectionalIsolate = '\u2069', Ellipsis = '\u2026';
    private static readonly HtmlEncoder Encoder = HtmlEncoder.Create(UnicodeRanges.All);
    private readonly Stack<string> _open = new();

    /// <summary>Elements begun and not ended.</summary>
    public int Depth => _open.Count;

    /// <summary>Begins an element.</summary>
    public Markup Open(string element, params ReadOnlySpan<(string Name, string Value)> attributes)
    {
        Begin(element, attributes);
        output.Write('>');
        _open.Push(element);
        return this;
    }

    /// <summary>Ends the element begun last.</summary>
    public Markup Close()
    {
        string element = _open.Pop();
        output.Write("</");
        output.Write(element);
        output.Write(EndsALine(element) ? ">\n" : ">");
        return this;
    }

    /// <summary>An element without content.</summary>
    public Markup Empty(string element, params ReadOnlySpan<(string Name, string Value)> attributes)
    {
        Begin(element, attributes);
        output.Write("/>");
        return this;
    }

    /// <summary>An element with text in it.</summary>
    public Markup Element(string element, string text, params ReadOnlySpan<(string Name, string Value)> attributes) => Open(element, attributes).Text(text).Close();

    public Markup Text(string text)
    {
        Encoder.Encode(output, Clean(names.InText(text)));
        return this;
    }

    /// <summary>The document type (HTML Living Standard §13.1.1).</summary>
    public void Begin() => output.Write("<!DOCTYPE html>\n");

    /// <summary>The page's own style sheet.</summary>
    public void Style() => Constant("style", PageStyle.Text);

    /// <summary>The page's own script.</summary>
    public void Script() => Constant("script", PageScript.Text);

    /// <summary>A number as attributes take it, to a tenth.</summary>
    public static string Number(double value) => value.ToString("0.#", CultureInfo.InvariantCulture);

    /// <summary>
    /// Without control characters, without invisible and direction-changing ones, and cut where it is longer than any text here should be. Isolates, which
    /// keep a name from turning the words beside it around, stay where they come in pairs.
    /// </summary>
    internal static string Clean(string text)
    {
        if (text.Length <= LongestText && IsPlain(text))
            return text;
        var clean = new StringBuilder(Math.Min(text.Length, LongestText));
        int isolates = 0;
        foreach (Rune rune in text.EnumerateRunes())
        {
            if (clean.Length >= LongestText)
            {
                clean.Append(Ellipsis);
                break;
            }
            if (rune.Value == FirstStrongIsolate)
                isolates++;
            else if (rune.Value == PopDirectionalIsolate)
            {
                if (isolates == 0)
                    continue;
                isolates--;
            }
            else if (Rune.IsWhiteSpace(rune))
            {
                clean.Append(rune.Value == 0xA0 ? '\u00A0' : ' ');
                continue;
            }
            else if (Rune.GetUnicodeCategory(rune) is UnicodeCategory.Control or UnicodeCategory.Format or UnicodeCategory.Surrogate or UnicodeCategory.OtherNotAssigned)
                continue;
            clean.Append(rune.ToString());
        }
        return clean.Append(PopDirectionalIsolate, isolates).ToString();
    }

    private static bool IsPlain(string text)
    {
        foreach (char c in text)
            if (c is < ' ' or > '~')
                return false;
        return true;
    }

    private void Begin(string element, ReadOnlySpan<(string Name, string Value)> attributes)
    {
        output.Write('<');
        output.Write(Name(element));
        foreach ((string name, string value) in attributes)
        {
            output.Write(' ');
            output.Write(Name(name));
            output.Write("=\"");
            Encoder.Encode(output, Clean(name.StartsWith("aria-", StringComparison.Ordinal) ? names.InText(value) : value));
            output.Write('"');
        }
    }

    /// <summary>Names of elements and attributes come from this program; a name with anything else in it must not get out.</summary>
    private static string Name(string name)
    {
        foreach (char c in name)
            if (!char.IsAsciiLetterOrDigit(c) && c != '-')
                throw new ArgumentException("no name of an element or attribute", nameof(name));
        return name;
    }

    private void Constant(string element, string text)
    {
        output.Write('<');
        output.Write(element);
        output.Write('>');
        output.Write(text);
        output.Write("</");
        output.Write(element);
        output.Write(">\n");
    }

    private static bool EndsALine(string element) => element is not ("span" or "b" or "td" or "th" or "title" or "text" or "bdi" or "a");
}
