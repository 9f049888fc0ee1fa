using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access;

/// <summary>
/// Writes access messages by the rows of the catalogue. A caller's mistake is an <see cref="ArgumentException"/> that names the field.
/// </summary>
public static class AccessWriter
{
    /// <summary>Opcode and parameters. A message that was read without a problem gives the octets that it was read from.</summary>
    public static byte[] Write(DecodedMessage message)
    {
        ArgumentNullException.ThrowIfNull(message);
        if (message.Definition is { } definition)
            return Write(definition, message.Fields);
        var octets = new BitWriter(bigEndian: false);
        WriteOpcode(octets, message.Opcode);
        if (message[AccessReader.Parameters] is { } parameters)
            octets.Write(parameters.Octets.Span);
        return octets.ToArray();
    }

    /// <summary>A message without parameters, or with none but optional ones.</summary>
    public static byte[] Write(string messageName) => Write(Named(messageName), []);

    /// <summary>A message of plain integers: <c>Write("Generic OnOff Set", ("OnOff", 1), ("TID", 5))</c>.</summary>
    public static byte[] Write(string messageName, params (string Field, long Value)[] values)
    {
        ArgumentNullException.ThrowIfNull(values);
        var fields = new DecodedField[values.Length];
        for (int i = 0; i < fields.Length; i++)
            fields[i] = DecodedField.OfNumber(values[i].Field, values[i].Value);
        return Write(Named(messageName), fields);
    }

    /// <summary>A message of any fields, in any order.</summary>
    public static byte[] Write(string messageName, params DecodedField[] fields) => Write(Named(messageName), fields);

    /// <summary>A message of any fields, in any order, of a row of the catalogue or of the user's vendor table.</summary>
    public static byte[] Write(MessageDefinition definition, IReadOnlyList<DecodedField> fields)
    {
        ArgumentNullException.ThrowIfNull(definition);
        ArgumentNullException.ThrowIfNull(fields);
        var octets = new BitWriter(bigEndian: false);
        WriteOpcode(octets, definition.Opcode);
        LayoutWriter.Write(definition.Name, definition.Layout, fields, octets);
        return octets.ToArray();
    }

    private static MessageDefinition Named(string messageName) =>
        AccessCatalogue.Find(messageName) ?? throw new ArgumentException($"no access message is named '{messageName}'", nameof(messageName));

    private static void WriteOpcode(BitWriter octets, Opcode opcode)
    {
        Span<byte> wire = stackalloc byte[3];
        octets.Write(wire[..opcode.Write(wire)]);
    }
}
