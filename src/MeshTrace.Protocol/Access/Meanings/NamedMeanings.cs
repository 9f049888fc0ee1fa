using System.Collections.Concurrent;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>The meanings that have a name: rows of meanings.tsv, parsed when first used.</summary>
internal static class NamedMeanings
{
    private static readonly Lazy<Dictionary<string, string>> Definitions = new(ReadTable);
    private static readonly ConcurrentDictionary<string, Meaning> Parsed = new(StringComparer.Ordinal);

    public static IEnumerable<string> Names => Definitions.Value.Keys;

    public static Meaning? Find(string name)
    {
        if (Parsed.TryGetValue(name, out Meaning? meaning))
            return meaning;
        if (!Definitions.Value.TryGetValue(name, out string? definition))
            return null;
        meaning = MeaningParser.TryParse(definition)
            ?? throw new InvalidDataException($"table meanings: {name} has no understandable definition: {definition}");
        return Parsed.GetOrAdd(name, meaning);
    }

    private static Dictionary<string, string> ReadTable()
    {
        var rows = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (string[] cells in Table.Read("meanings", columns: 3))
            rows.Add(cells[0], cells[1]);
        return rows;
    }
}
