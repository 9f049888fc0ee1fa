using System.Globalization;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>
/// Definitions of meanings (docs/layout-syntax.md), each followed by any number of <c>!VALUE:words</c> for values apart, "unknown" if left out:
/// <c>0.5 °C</c> (factor and unit), <c>1 s (v-255)</c>, <c>time 10 ms (v+1)</c>, <c>power 1 s (v-1)</c>, <c>enum NAME</c>, <c>flags NAME</c>,
/// <c>parts 0:2 NAME; 2:2 NAME</c>, <c>status GROUP</c>, and the words of <see cref="PlainMeanings"/>.
/// </summary>
internal static class MeaningParser
{
    public static Meaning? TryParse(string text)
    {
        string[] pieces = text.Split('!');
        string definition = pieces[0].Trim();
        var special = new (long Value, string Words)[pieces.Length - 1];
        for (int i = 1; i < pieces.Length; i++)
        {
            int colon = pieces[i].IndexOf(':', StringComparison.Ordinal);
            if (!Numerals.TryParse(colon < 0 ? pieces[i] : pieces[i][..colon], out special[i - 1].Value))
                return null;
            special[i - 1].Words = colon < 0 ? "unknown" : pieces[i][(colon + 1)..].Trim();
        }
        Meaning? meaning = ParseDefinition(definition);
        return meaning is null || special.Length == 0 ? meaning : new SpecialValues(special, meaning);
    }

    private static Meaning? ParseDefinition(string text)
    {
        if (text.Length > 0 && char.IsAsciiDigit(text[0]))
            return ParseScale(text, Scale.Linear);
        int space = text.IndexOf(' ', StringComparison.Ordinal);
        string kind = space < 0 ? text : text[..space];
        string rest = space < 0 ? "" : text[(space + 1)..].Trim();
        return kind switch
        {
            "time" => ParseScale(rest, Scale.Time),
            "power" => ParseScale(rest, Scale.PowerOfTwo),
            "enum" => Enumeration.Find(rest) is { } values ? new EnumerationMeaning(values) : null,
            "flags" => Enumeration.Find(rest) is { } bits ? new FlagsMeaning(bits) : null,
            "parts" => PartsMeaning.TryParseParts(rest),
            "status" => new StatusMeaning(rest),
            _ => rest.Length == 0 ? PlainMeanings.Find(kind) : null,
        };
    }

    // FACTOR [UNIT] [(v+SHIFT)]; FACTOR is 0.5, 1/64 or 100/65535:1, where :1 gives the decimals shown.
    private static ScaleMeaning? ParseScale(string text, Scale scale)
    {
        double shift = 0;
        int bracket = text.IndexOf("(v", StringComparison.Ordinal);
        if (bracket >= 0)
        {
            if (!text.EndsWith(')')
                || !double.TryParse(text.AsSpan(bracket + 2, text.Length - bracket - 3), NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint,
                    CultureInfo.InvariantCulture, out shift))
                return null;
            text = text[..bracket].Trim();
        }
        int space = text.IndexOf(' ', StringComparison.Ordinal);
        string number = space < 0 ? text : text[..space];
        string unit = space < 0 ? "" : text[(space + 1)..].Trim();
        int decimals = -1;
        int colon = number.IndexOf(':', StringComparison.Ordinal);
        if (colon >= 0)
        {
            if (!int.TryParse(number.AsSpan(colon + 1), NumberStyles.None, CultureInfo.InvariantCulture, out decimals) || decimals > 9)
                return null;
            number = number[..colon];
        }
        string[] fraction = number.Split('/');
        double divisor = 1;
        if (fraction.Length > 2 || !TryParseDecimal(fraction[0], out double factor)
            || (fraction.Length == 2 && (!TryParseDecimal(fraction[1], out divisor) || divisor == 0)))
            return null;
        if (decimals < 0)
        {
            int point = number.IndexOf('.', StringComparison.Ordinal);
            decimals = fraction.Length == 2 ? 3 : point < 0 ? 0 : number.Length - point - 1;
        }
        return new ScaleMeaning(scale, factor / divisor, shift, unit, decimals);
    }

    private static bool TryParseDecimal(string text, out double value) =>
        double.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out value);
}
