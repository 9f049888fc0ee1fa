using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>One value, one name; a value without a name is "reserved".</summary>
internal sealed class EnumerationMeaning(Enumeration values) : Meaning
{
    public override string? Read(DecodedField field, Scope? scope) =>
        field.Kind is FieldKind.Number or FieldKind.Signed ? values.Words(field.Number) ?? "reserved value" : null;
}
