using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Reports.Records;

/// <summary>The fields of a provisioning PDU, as <see cref="FieldTree"/> shows those of a message.</summary>
internal static class ProvisioningFields
{
    /// <summary>Writes the members <c>fields</c> and <c>reads</c>. What cannot be read as a PDU has its octets after the type whole, as <c>Parameters</c>.</summary>
    public static void Write(JsonLine line, ReadOnlySpan<byte> pdu)
    {
        JsonText json = line.Json;
        IReadOnlyList<ProvisioningFieldValue> fields = ProvisioningPdu.TryRead(pdu, out ProvisioningPdu read, out _) ? ProvisioningFieldReader.Read(read) : [];
        json.WriteStartObject("fields"u8);
        foreach (ProvisioningFieldValue field in fields)
        {
            if (field.Number is { } number)
                json.WriteNumber(field.Name, number);
            else
                json.WriteString(field.Name, Convert.ToHexStringLower(field.Octets));
        }
        if (fields.Count == 0 && pdu.Length > 1)
            json.WriteString("Parameters"u8, Convert.ToHexStringLower(pdu[1..]));
        json.WriteEndObject();

        json.WriteStartObject("reads"u8);
        foreach (ProvisioningFieldValue field in fields)
        {
            if (field.Reads is { } words)
                json.WriteString(field.Name, words);
        }
        json.WriteEndObject();
    }
}
