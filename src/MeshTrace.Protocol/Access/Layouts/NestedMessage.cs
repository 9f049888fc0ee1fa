using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// An access message inside another (Opcodes Aggregator items, Mesh Protocol 1.1 §4.3.9): a group whose first field is <c>Opcode</c>. What no row
/// defines, and an aggregator inside an aggregator, which the standard forbids, stays octets.
/// </summary>
internal static class NestedMessage
{
    private const string OpcodeField = "Opcode";
    private const int Deepest = 1;

    public static DecodedField Read(string name, ReadOnlySpan<byte> octets, int depth, out DecodeProblem problem)
    {
        if (depth > Deepest || !Opcode.TryRead(octets, out Opcode opcode, out problem) || AccessCatalogue.Find(opcode) is not { } definition)
        {
            problem = DecodeProblem.None;
            return DecodedField.OfOctets(name, octets.ToArray());
        }
        IReadOnlyList<DecodedField> fields =
            LayoutReader.Read(definition.Layout, octets, opcode.Octets, bigEndian: false, Layer.Access, depth, out problem);
        DecodedField[] all = new DecodedField[fields.Count + 1];
        all[0] = DecodedField.OfNumber(OpcodeField, opcode.Value, opcode.Octets * 8).Meaning(Meanings.Meaning.TryParse("opcode"), new Scope(null));
        for (int i = 0; i < fields.Count; i++)
            all[i + 1] = fields[i];
        return DecodedField.OfGroup(name, all);
    }

    /// <exception cref="ArgumentException">The group does not name a message of the catalogue.</exception>
    public static byte[] Write(DecodedField group)
    {
        if (group[OpcodeField] is not { } named || AccessCatalogue.Find(new Opcode((uint)named.Number)) is not { } definition)
            throw new ArgumentException($"{group.Name} needs the {OpcodeField} of a message in the catalogue", nameof(group));
        var fields = new List<DecodedField>(group.Children);
        fields.Remove(named);
        return AccessWriter.Write(definition, fields);
    }
}
