using System.Globalization;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>The numerals of the tables: <c>12</c>, <c>-3</c>, <c>0x1F</c>.</summary>
internal static class Numerals
{
    public static bool TryParse(ReadOnlySpan<char> text, out long value)
    {
        text = text.Trim();
        return text.StartsWith("0x", StringComparison.OrdinalIgnoreCase)
            ? long.TryParse(text[2..], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out value)
            : long.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out value);
    }

    public static uint ParseUnsigned(ReadOnlySpan<char> text) => TryParse(text, out long value) ? checked((uint)value)
        : throw new FormatException($"'{text}' is no number");
}
