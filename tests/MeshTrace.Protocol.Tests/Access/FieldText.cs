using System.Globalization;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>Fields as one line, for comparison: <c>Page=1 Keys=[1,2] Value={Minimum=-2} Data=#0A0B Text='x'</c>.</summary>
internal static class FieldText
{
    public static string Of(IEnumerable<DecodedField> fields) => string.Join(' ', fields.Select(field => $"{field.Name}={Value(field)}"));

    private static string Value(DecodedField field) => field.Kind switch
    {
        FieldKind.Number => field.Unsigned.ToString(CultureInfo.InvariantCulture),
        FieldKind.Signed => field.Number.ToString(CultureInfo.InvariantCulture),
        FieldKind.Real => field.Real.ToString("R", CultureInfo.InvariantCulture),
        FieldKind.Octets => "#" + Convert.ToHexString(field.Octets.Span),
        FieldKind.Text => $"'{field.Text}'",
        FieldKind.List => "[" + string.Join(',', field.Children.Select(Value)) + "]",
        _ => "{" + Of(field.Children) + "}",
    };
}
