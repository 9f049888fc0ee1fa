using System.Globalization;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>Bits with names: those that are set, or "none".</summary>
internal sealed class FlagsMeaning(Enumeration bits) : Meaning
{
    public override string? Read(DecodedField field, Scope? scope)
    {
        if (field.Kind != FieldKind.Number)
            return null;
        var words = new List<string>();
        for (int bit = 0; bit < 64; bit++)
        {
            if (((field.Number >> bit) & 1) != 0)
                words.Add(bits.Words(bit) ?? string.Create(CultureInfo.InvariantCulture, $"bit {bit}"));
        }
        return words.Count == 0 ? "none" : string.Join(", ", words);
    }
}
