using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>Which meaning a field of this name has: rows of field-meanings.tsv, for one message, for a group of messages, or everywhere.</summary>
internal static class FieldMeanings
{
    private const string Everywhere = "*";
    private static readonly Lazy<Dictionary<(string Scope, string Field), string>> Rows = new(ReadTable);

    public static IReadOnlyDictionary<(string Scope, string Field), string> All => Rows.Value;

    public static Meaning? Find(string message, string group, string field)
    {
        Dictionary<(string, string), string> rows = Rows.Value;
        return rows.TryGetValue((message, field), out string? meaning) || rows.TryGetValue((group, field), out meaning)
            || rows.TryGetValue((Everywhere, field), out meaning)
            ? Meaning.TryParse(meaning)
            : null;
    }

    private static Dictionary<(string, string), string> ReadTable()
    {
        var rows = new Dictionary<(string, string), string>();
        foreach (string[] cells in Table.Read("field-meanings", columns: 3))
        {
            foreach (string field in cells[1].Split(' '))
                rows.Add((cells[0], field), cells[2]);
        }
        return rows;
    }
}
