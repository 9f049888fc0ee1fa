using System.Buffers;

namespace MeshTrace.Analysis.Description;

/// <summary>Hex digits in text, and what is wrong with them in words that never repeat the text.</summary>
internal static class HexText
{
    private static readonly SearchValues<char> s_digits = SearchValues.Create("0123456789abcdefABCDEF");

    /// <summary>Fills <paramref name="octets"/> from exactly twice as many hex digits of any case.</summary>
    public static bool TryRead(ReadOnlySpan<char> hex, Span<byte> octets) =>
        hex.Length == 2 * octets.Length
        && Convert.FromHexString(hex, octets, out int consumed, out int written) == OperationStatus.Done
        && consumed == hex.Length
        && written == octets.Length;

    /// <summary>For a text that <see cref="TryRead"/> refused: its length, or the place of the first character that is no digit.</summary>
    /// <param name="hex">The text that was refused.</param>
    /// <param name="needed">What is needed, for example <c>32</c> or <c>4 or 32</c>.</param>
    public static string Complaint(ReadOnlySpan<char> hex, string needed)
    {
        int stranger = hex.IndexOfAnyExcept(s_digits);
        return stranger >= 0
            ? $"character {stranger + 1} is no hex digit, {needed} hex digits needed"
            : $"{hex.Length} hex digits, {needed} needed";
    }
}
