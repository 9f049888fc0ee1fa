namespace MeshTrace.Screens.Views;

/// <summary>
/// Letters that take one column, whoever counts: those before the combining marks (U+0300), punctuation and dashes, arrows, lines and blocks. Nearly all
/// that is drawn is made of them, so they go without the questions that others need.
/// </summary>
internal static class OneColumn
{
    private const int FirstBeyond = 0x2600;
    private static readonly string?[] Known = new string?[FirstBeyond];

    public static bool Is(char letter) =>
        letter is >= ' ' and < '\u007F' or >= '\u00A1' and < '\u0300' and not '\u00AD' or >= '\u2010' and <= '\u2027' or >= '\u2190' and <= '\u22FF' or >= '\u2500' and <= '\u25FC';

    public static bool Are(ReadOnlySpan<char> letters)
    {
        foreach (char letter in letters)
        {
            if (!Is(letter))
                return false;
        }
        return true;
    }

    /// <summary>True for a string of one such letter.</summary>
    public static bool Holds(string grapheme) => grapheme.Length == 1 && Is(grapheme[0]);

    /// <summary>The letter as a string, made once.</summary>
    public static string Text(char letter) => Known[letter] ??= letter.ToString();
}
