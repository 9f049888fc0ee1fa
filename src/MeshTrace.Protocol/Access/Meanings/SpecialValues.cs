using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>Values that stand apart from the rest of their field: "unknown", "off", "without end".</summary>
internal sealed class SpecialValues((long Value, string Words)[] special, Meaning otherwise) : Meaning
{
    public override string? Read(DecodedField field, Scope? scope)
    {
        if (field.Kind is FieldKind.Number or FieldKind.Signed)
        {
            // A signed field is compared as its bits too: the tables write 0x8000 for the least value of 16 bits.
            long bits = field is { Kind: FieldKind.Signed, Bits: > 0 and < 64 } ? field.Number & ((1L << field.Bits) - 1) : field.Number;
            foreach ((long value, string words) in special)
            {
                if (value == field.Number || value == bits)
                    return words;
            }
        }
        return otherwise.Read(field, scope);
    }
}
