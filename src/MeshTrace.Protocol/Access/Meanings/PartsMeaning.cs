using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>
/// Several small values in one field, each with its own meaning: <c>0:2 battery-presence; 2:2 battery-charge</c> (first bit : bits, meaning).
/// </summary>
internal sealed class PartsMeaning : Meaning
{
    private readonly (int Bit, int Bits, Meaning Meaning)[] _parts;

    private PartsMeaning((int, int, Meaning)[] parts) => _parts = parts;

    public static PartsMeaning? TryParseParts(string text)
    {
        string[] pieces = text.Split(';', StringSplitOptions.TrimEntries);
        var parts = new (int, int, Meaning)[pieces.Length];
        for (int i = 0; i < pieces.Length; i++)
        {
            int space = pieces[i].IndexOf(' ', StringComparison.Ordinal);
            int colon = pieces[i].IndexOf(':', StringComparison.Ordinal);
            if (colon < 0 || space < colon || !Numerals.TryParse(pieces[i].AsSpan(0, colon), out long bit)
                || !Numerals.TryParse(pieces[i].AsSpan(colon + 1, space - colon - 1), out long bits)
                || Meaning.TryParse(pieces[i][(space + 1)..]) is not { } meaning)
                return null;
            parts[i] = ((int)bit, (int)bits, meaning);
        }
        return new PartsMeaning(parts);
    }

    public override string? Read(DecodedField field, Scope? scope)
    {
        if (field.Kind != FieldKind.Number)
            return null;
        var words = new List<string>();
        foreach ((int bit, int bits, Meaning meaning) in _parts)
        {
            DecodedField part = DecodedField.OfNumber(field.Name, (field.Number >> bit) & ((1L << bits) - 1), bits);
            if (meaning.Read(part, scope) is { Length: > 0 } said)
                words.Add(said);
        }
        return string.Join("; ", words);
    }
}
