using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.UpperTransport.Control;

/// <summary>Reads control messages by the rows of the catalogue; big-endian throughout (Mesh Protocol 1.1 §3.6.5).</summary>
public static class ControlReader
{
    internal const string Parameters = "Parameters";

    /// <summary>Decodes a control message. Any octets give a result; what was wrong stands in <see cref="DecodedControl.Problem"/>.</summary>
    /// <param name="opcode">The 7-bit opcode.</param>
    /// <param name="parameters">The octets after it, reassembled.</param>
    public static DecodedControl Read(byte opcode, ReadOnlySpan<byte> parameters)
    {
        if (ControlCatalogue.Find(opcode) is not { } definition)
            return new DecodedControl(null, opcode, parameters.IsEmpty ? [] : [DecodedField.OfOctets(Parameters, parameters.ToArray())]);
        IReadOnlyList<DecodedField> fields = LayoutReader.Read(
            definition.Layout, parameters, start: 0, bigEndian: true, Layer.UpperTransport, messageDepth: 0, out DecodeProblem problem);
        return new DecodedControl(definition, opcode, fields, problem);
    }
}
