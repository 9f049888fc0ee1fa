using MeshTrace.Protocol.Access;

namespace MeshTrace.Protocol.UpperTransport.Control;

/// <summary>A control message as its fields, in the same tree as access messages.</summary>
public sealed class DecodedControl
{
    public DecodedControl(ControlDefinition? definition, byte opcode, IReadOnlyList<DecodedField> fields, DecodeProblem problem = default)
    {
        ArgumentNullException.ThrowIfNull(fields);
        Definition = definition;
        Opcode = opcode;
        Fields = fields;
        Problem = problem;
    }

    /// <summary>The row of the catalogue; null for an opcode that is not defined.</summary>
    public ControlDefinition? Definition { get; }

    public byte Opcode { get; }

    /// <summary>In the order on the air. Of an undefined message: its octets, as <c>Parameters</c>.</summary>
    public IReadOnlyList<DecodedField> Fields { get; }

    /// <summary>Offsets count from the first octet of the parameters.</summary>
    public DecodeProblem Problem { get; }

    /// <summary>The first field of that name, or null.</summary>
    public DecodedField? this[string name] => DecodedField.Find(Fields, name);
}
