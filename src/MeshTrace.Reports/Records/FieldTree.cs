using MeshTrace.Protocol.Access;

namespace MeshTrace.Reports.Records;

/// <summary>
/// The fields of a message as JSON: <c>fields</c> holds raw values under the standard's names, <c>reads</c> the same in human words for those that
/// have them. Numbers are numbers, octets are lower-case hexadecimal, lists are arrays, groups are objects.
/// </summary>
internal static class FieldTree
{
    /// <param name="line">Where to write.</param>
    /// <param name="fields">The fields.</param>
    /// <param name="hideOctets">True for a message that carries keys: octets are written as null, and only numbers are put into words.</param>
    /// <param name="extra">A field, and words about it that stand in no field; its own words give way.</param>
    public static void Write(JsonLine line, IReadOnlyList<DecodedField> fields, bool hideOctets = false, (string Field, string Reads)? extra = null)
    {
        line.Json.WriteStartObject("fields"u8);
        foreach (DecodedField field in fields)
        {
            line.Json.WritePropertyName(field.Name);
            WriteValue(line.Json, field, hideOctets);
            line.SpillWhenFull();
        }
        line.Json.WriteEndObject();

        line.Json.WriteStartObject("reads"u8);
        if (extra is { } more)
            line.Json.WriteString(more.Field, more.Reads);
        WriteReads(line.Json, fields, hideOctets, extra?.Field);
        line.Json.WriteEndObject();
    }

    private static void WriteValue(JsonText json, DecodedField field, bool hideOctets)
    {
        switch (field.Kind)
        {
            case FieldKind.Number:
                json.WriteNumberValue(field.Unsigned);
                break;
            case FieldKind.Signed:
                json.WriteNumberValue(field.Number);
                break;
            case FieldKind.Real when double.IsFinite(field.Real):
                json.WriteNumberValue((float)field.Real);
                break;
            case FieldKind.Real:
                json.WriteNullValue();      // JSON has no infinity and no "not a number"
                break;
            case FieldKind.Octets or FieldKind.Text when hideOctets:
                json.WriteNullValue();
                break;
            case FieldKind.Octets:
                json.WriteStringValue(Convert.ToHexStringLower(field.Octets.Span));
                break;
            case FieldKind.Text:
                json.WriteStringValue(field.Text);
                break;
            case FieldKind.List:
                json.WriteStartArray();
                foreach (DecodedField element in field.Children)
                    WriteValue(json, element, hideOctets);
                json.WriteEndArray();
                break;
            default:
                json.WriteStartObject();
                foreach (DecodedField child in field.Children)
                {
                    json.WritePropertyName(child.Name);
                    WriteValue(json, child, hideOctets);
                }
                json.WriteEndObject();
                break;
        }
    }

    /// <summary>Only what has words; of a group, an object with those of its fields.</summary>
    private static void WriteReads(JsonText json, IReadOnlyList<DecodedField> fields, bool hideOctets, string? except = null)
    {
        foreach (DecodedField field in fields)
        {
            if (field.Name == except || (hideOctets && field.Kind is not (FieldKind.Number or FieldKind.Signed)))
                continue;
            if (field.Reads is { } reads)
                json.WriteString(field.Name, reads);
            else if (field.Kind == FieldKind.Group && HasReads(field))
            {
                json.WriteStartObject(field.Name);
                WriteReads(json, field.Children, hideOctets);
                json.WriteEndObject();
            }
        }
    }

    private static bool HasReads(DecodedField field)
    {
        if (field.Reads is not null)
            return true;
        if (field.Kind != FieldKind.Group)
            return false;
        foreach (DecodedField child in field.Children)
        {
            if (HasReads(child))
                return true;
        }
        return false;
    }
}
