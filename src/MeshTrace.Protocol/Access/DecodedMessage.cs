using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Access;

/// <summary>
/// An access message as its fields. A message that is too short or too long keeps what could be read, and says so in <see cref="Problem"/>.
/// </summary>
public sealed class DecodedMessage
{
    public DecodedMessage(MessageDefinition? definition, Opcode opcode, IReadOnlyList<DecodedField> fields, DecodeProblem problem = default)
    {
        ArgumentNullException.ThrowIfNull(fields);
        Definition = definition;
        Opcode = opcode;
        Fields = fields;
        Problem = problem;
    }

    /// <summary>The row of the catalogue; null for an opcode that neither the standard nor the user's table defines.</summary>
    public MessageDefinition? Definition { get; }

    public Opcode Opcode { get; }

    /// <summary>In the order on the air. Of an undefined message: its octets after the opcode, as <c>Parameters</c>.</summary>
    public IReadOnlyList<DecodedField> Fields { get; }

    public DecodeProblem Problem { get; }

    /// <summary>The first field of that name, or null.</summary>
    public DecodedField? this[string name] => DecodedField.Find(Fields, name);
}
