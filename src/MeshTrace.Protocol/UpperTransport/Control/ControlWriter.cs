using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.UpperTransport.Control;

/// <summary>Writes the parameters of control messages. A caller's mistake is an <see cref="ArgumentException"/> that names the field.</summary>
public static class ControlWriter
{
    /// <summary>The octets after the opcode. A message that was read without a problem gives those that it was read from.</summary>
    public static byte[] Write(DecodedControl message)
    {
        ArgumentNullException.ThrowIfNull(message);
        return message.Definition is { } definition ? Write(definition, message.Fields) : message[ControlReader.Parameters]?.Octets.ToArray() ?? [];
    }

    /// <summary>Parameters of plain integers: <c>Write("Friend Poll", ("FSN", 1))</c>.</summary>
    public static byte[] Write(string messageName, params (string Field, long Value)[] values)
    {
        ArgumentNullException.ThrowIfNull(values);
        var fields = new DecodedField[values.Length];
        for (int i = 0; i < fields.Length; i++)
            fields[i] = DecodedField.OfNumber(values[i].Field, values[i].Value);
        return Write(messageName, fields);
    }

    /// <summary>Parameters of any fields, in any order.</summary>
    public static byte[] Write(string messageName, IReadOnlyList<DecodedField> fields)
    {
        ControlDefinition definition = ControlCatalogue.Find(messageName)
            ?? throw new ArgumentException($"no control message is named '{messageName}'", nameof(messageName));
        return Write(definition, fields);
    }

    /// <summary>Parameters of any fields, in any order.</summary>
    public static byte[] Write(ControlDefinition definition, IReadOnlyList<DecodedField> fields)
    {
        ArgumentNullException.ThrowIfNull(definition);
        ArgumentNullException.ThrowIfNull(fields);
        var octets = new BitWriter(bigEndian: true);
        LayoutWriter.Write(definition.Name, definition.Layout, fields, octets);
        return octets.ToArray();
    }
}
