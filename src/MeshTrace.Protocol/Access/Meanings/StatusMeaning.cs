using System.Globalization;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>A status code by its name (status-codes.tsv).</summary>
internal sealed class StatusMeaning(string group) : Meaning
{
    public override string? Read(DecodedField field, Scope? scope) => StatusCodes.NameOf(group, field.Number) ?? "reserved value";
}

/// <summary>A property value that has another size than its characteristic: shown as octets, with the size that was expected.</summary>
internal sealed class OddSizeMeaning(int expected) : Meaning
{
    public override string? Read(DecodedField field, Scope? scope) =>
        string.Create(CultureInfo.InvariantCulture, $"{field.Octets.Length} octets, {expected} expected");
}
