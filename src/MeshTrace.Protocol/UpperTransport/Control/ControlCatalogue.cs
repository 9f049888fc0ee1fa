using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.UpperTransport.Control;

/// <summary>The upper transport control messages (Mesh Protocol 1.1 §3.6.5) and Segment Acknowledgment: rows of control-messages.tsv.</summary>
public static class ControlCatalogue
{
    private static readonly Lazy<ControlDefinition[]> Rows = new(ReadTable);

    public static IReadOnlyList<ControlDefinition> All => Rows.Value;

    public static ControlDefinition? Find(byte opcode) => Array.Find(Rows.Value, row => row.Opcode == opcode);

    public static ControlDefinition? Find(string name) => Array.Find(Rows.Value, row => row.Name == name);

    private static ControlDefinition[] ReadTable()
    {
        List<string[]> rows = Table.Read("control-messages", columns: 6);
        var messages = new ControlDefinition[rows.Count];
        for (int i = 0; i < messages.Length; i++)
        {
            string[] cells = rows[i];
            messages[i] = new ControlDefinition((byte)Numerals.ParseUnsigned(cells[0]), cells[1], cells[2], cells[3], cells[4]);
        }
        return messages;
    }
}
