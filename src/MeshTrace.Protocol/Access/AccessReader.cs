using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access;

/// <summary>Reads access messages by the rows of the catalogue, and vendor messages by a table that the user gives.</summary>
public static class AccessReader
{
    internal const string Parameters = "Parameters";

    /// <summary>Decodes a message. Any octets give a result; what was wrong stands in <see cref="DecodedMessage.Problem"/>.</summary>
    /// <param name="accessPayload">Opcode and parameters, as decrypted.</param>
    /// <param name="vendor">Definitions of vendor messages, or null.</param>
    public static DecodedMessage Read(ReadOnlySpan<byte> accessPayload, VendorCatalogue? vendor = null)
    {
        if (!Opcode.TryRead(accessPayload, out Opcode opcode, out DecodeProblem problem))
            return new DecodedMessage(null, opcode, accessPayload.IsEmpty ? [] : [RestOf(accessPayload, 0)], problem);
        if ((AccessCatalogue.Find(opcode) ?? vendor?.Find(opcode)) is not { } definition)
            return new DecodedMessage(null, opcode, accessPayload.Length == opcode.Octets ? [] : [RestOf(accessPayload, opcode.Octets)]);
        IReadOnlyList<DecodedField> fields =
            LayoutReader.Read(definition.Layout, accessPayload, opcode.Octets, bigEndian: false, Layer.Access, messageDepth: 0, out problem);
        return new DecodedMessage(definition, opcode, fields, problem);
    }

    /// <summary>
    /// Reads one integer field at the message's outermost level without building the others: for the analysis, which asks many messages for
    /// a TID or a state. Fields at fixed places cost no allocation.
    /// </summary>
    public static bool TryReadNumber(ReadOnlySpan<byte> accessPayload, string fieldName, out long value)
    {
        value = 0;
        if (!Opcode.TryRead(accessPayload, out Opcode opcode, out _) || AccessCatalogue.Find(opcode) is not { } definition)
            return false;
        if (definition.Layout.TryReadFixed(accessPayload[opcode.Octets..], fieldName, out value) is { } found)
            return found;
        if (Read(accessPayload)[fieldName] is not { Kind: FieldKind.Number or FieldKind.Signed } field)
            return false;
        value = field.Number;
        return true;
    }

    private static DecodedField RestOf(ReadOnlySpan<byte> payload, int start) => DecodedField.OfOctets(Parameters, payload[start..].ToArray());
}
