using System.Globalization;
using System.Text;

namespace MeshTrace.Analysis.Description;

/// <summary>Names that come from files, made fit for a terminal line. (A page escapes them once more in its own way.)</summary>
public static class SafeText
{
    /// <summary>Longest text that <see cref="Strip"/> gives unless asked otherwise, in UTF-16 units.</summary>
    public const int LongestName = 64;

    /// <summary>More combining marks than this on one character climb over the lines above and below.</summary>
    private const int MostMarks = 3;
    private const char Ellipsis = '\u2026';

    /// <summary>
    /// Removes control characters, invisible and direction-changing ones (general category Cf), lone surrogates and unassigned
    /// or private code points; turns every run of white space into one space; cuts what is longer than <paramref name="longest"/>.
    /// </summary>
    /// <returns>The text to show; empty where nothing visible is left.</returns>
    public static string Strip(string? text, int longest = LongestName)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(longest, 1);
        if (text is null)
            return "";
        if (IsPlain(text, longest))
            return text;

        var safe = new StringBuilder(Math.Min(text.Length, longest));
        bool space = false;
        int marks = 0;
        foreach (Rune rune in text.EnumerateRunes())   // a lone surrogate arrives as U+FFFD
        {
            switch (Fate(rune))
            {
                case Treatment.Drop:
                    continue;
                case Treatment.Space:
                    space = safe.Length > 0;
                    continue;
                case Treatment.Mark when safe.Length == 0 || space || ++marks > MostMarks:
                    continue;
                case Treatment.Keep:
                    marks = 0;
                    break;
            }
            int needed = rune.Utf16SequenceLength + (space ? 1 : 0);
            if (safe.Length + needed > longest)
                return Cut(safe, longest);
            if (space)
                safe.Append(' ');
            space = false;
            safe.Append(rune.ToString());
        }
        return safe.ToString();
    }

    private enum Treatment
    {
        Keep,
        Drop,
        Space,
        Mark,
    }

    private static Treatment Fate(Rune rune) => rune == Rune.ReplacementChar ? Treatment.Drop : Rune.GetUnicodeCategory(rune) switch
    {
        UnicodeCategory.Control => Rune.IsWhiteSpace(rune) ? Treatment.Space : Treatment.Drop,
        UnicodeCategory.SpaceSeparator or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator => Treatment.Space,
        UnicodeCategory.Format or UnicodeCategory.Surrogate or UnicodeCategory.PrivateUse or UnicodeCategory.OtherNotAssigned => Treatment.Drop,
        UnicodeCategory.NonSpacingMark or UnicodeCategory.EnclosingMark => Treatment.Mark,
        _ => Treatment.Keep,
    };

    /// <summary>Most names need nothing done: printable ASCII without leading, trailing or doubled spaces.</summary>
    private static bool IsPlain(string text, int longest)
    {
        if (text.Length > longest)
            return false;
        char before = ' ';
        foreach (char c in text)
        {
            if (c is < ' ' or > '~' || (c == ' ' && before == ' '))
                return false;
            before = c;
        }
        return text.Length == 0 || before != ' ';
    }

    private static string Cut(StringBuilder safe, int longest)
    {
        while (safe.Length > longest - 1 || (safe.Length > 0 && (char.IsHighSurrogate(safe[^1]) || safe[^1] == ' ')))
            safe.Length--;
        return safe.Append(Ellipsis).ToString();
    }
}
