using System.Globalization;
using System.Text;
using Wcwidth;

namespace MeshTrace.Reports.Words;

/// <summary>
/// How many terminal columns a text takes: East Asian wide characters take two, combining marks none (Unicode Standard Annex #11). Counted by
/// grapheme cluster, so that a letter with its marks, or a joined emoji, is never cut apart.
/// </summary>
public static class DisplayWidth
{
    private const char Ellipsis = '…', EmojiPresentation = '\uFE0F';

    /// <summary>First strong isolate, and pop directional isolate (Unicode Standard Annex #9): the text between them has a direction of its own.</summary>
    public const string BeginIsolate = "\u2068", EndIsolate = "\u2069";

    public static int Of(string text)
    {
        if (IsPlain(text))
            return text.Length;
        int width = 0;
        for (int at = 0; at < text.Length;)
        {
            int length = StringInfo.GetNextTextElementLength(text, at);
            width += OfCluster(text.AsSpan(at, length));
            at += length;
        }
        return width;
    }

    /// <summary>The text, cut with an ellipsis where it takes more than so many columns.</summary>
    public static string Cut(string text, int columns)
    {
        if (Of(text) <= columns)
            return text;
        if (columns <= 0)
            return "";
        if (IsPlain(text))
            return string.Concat(text.AsSpan(0, columns - 1), [Ellipsis]);
        int width = 0, at = 0;
        while (at < text.Length)
        {
            int length = StringInfo.GetNextTextElementLength(text, at);
            int next = OfCluster(text.AsSpan(at, length));
            if (width + next > columns - 1)
                break;
            width += next;
            at += length;
        }
        return text[..at] + Unclosed(text.AsSpan(0, at)) + Ellipsis;
    }

    /// <summary>What closes the isolates that were cut before their end (Unicode Standard Annex 9), so that they do not reach into what follows.</summary>
    private static string Unclosed(ReadOnlySpan<char> text)
    {
        int open = text.Count(BeginIsolate) - text.Count(EndIsolate);
        return open > 0 ? string.Concat(Enumerable.Repeat(EndIsolate, open)) : "";
    }

    /// <summary>The text, with an ellipsis in its middle where it takes more than so many columns: for names that begin alike.</summary>
    public static string CutMiddle(string text, int columns)
    {
        if (Of(text) <= columns || columns < 3)
            return Cut(text, columns);
        int tailColumns = (columns - 1) / 2;
        int at = text.Length;
        foreach (int start in StringInfo.ParseCombiningCharacters(text).Reverse())
        {
            if (Of(text[start..]) > tailColumns)
                break;
            at = start;
        }
        string tail = text[at..];
        return Cut(text, columns - Of(tail)) + tail;
    }

    /// <summary>The text cut or filled with spaces to exactly so many columns; text that runs right to left is isolated, so that it moves nothing else.</summary>
    public static string Fit(string text, int columns, bool alignRight = false)
    {
        if (IsPlain(text) && text.Length <= columns)
            return alignRight ? text.PadLeft(columns) : text.PadRight(columns);
        string cut = Cut(text, columns);
        var fill = new string(' ', Math.Max(0, columns - Of(cut)));
        string shown = Isolate(cut);
        return alignRight ? fill + shown : shown + fill;
    }

    /// <summary>Puts text with right-to-left letters between directional isolates (Unicode Standard Annex #9), which take no columns.</summary>
    public static string Isolate(string text)
    {
        if (IsPlain(text))
            return text;
        foreach (Rune rune in text.EnumerateRunes())
        {
            if (IsRightToLeft(rune.Value))
                return BeginIsolate + text + EndIsolate;
        }
        return text;
    }

    /// <summary>Letters, digits and signs of ASCII alone, which is nearly every text here: each takes one column, and none goes with another.</summary>
    internal static bool IsPlain(string text) => !text.AsSpan().ContainsAnyExceptInRange(' ', '~');

    /// <summary>The blocks that Unicode sets aside for scripts written right to left (DerivedBidiClass, default values R and AL).</summary>
    private static bool IsRightToLeft(int value) =>
        value is >= 0x0590 and <= 0x08FF or >= 0xFB1D and <= 0xFDFF or >= 0xFE70 and <= 0xFEFF or >= 0x10800 and <= 0x10FFF or >= 0x1E800 and <= 0x1EFFF;

    private static int OfCluster(ReadOnlySpan<char> cluster)
    {
        int width = 0;
        foreach (Rune rune in cluster.EnumerateRunes())
            width = Math.Max(width, Math.Max(0, UnicodeCalculator.GetWidth(rune)));
        return width == 1 && cluster.Contains(EmojiPresentation) ? 2 : width;
    }
}
