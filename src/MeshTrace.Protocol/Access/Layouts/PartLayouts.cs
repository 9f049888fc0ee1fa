using System.Collections.Concurrent;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// Layouts of parts that several messages share, or that are long enough to have a name: rows of part-layouts.tsv, parsed when first used.
/// </summary>
internal static class PartLayouts
{
    private static readonly Lazy<Dictionary<string, string>> Texts = new(ReadTable);
    private static readonly ConcurrentDictionary<string, Layout> Parsed = new(StringComparer.Ordinal);

    /// <summary>The names of all parts.</summary>
    public static IEnumerable<string> Names => Texts.Value.Keys;

    public static Layout? Find(string name, int depth = 0)
    {
        if (Parsed.TryGetValue(name, out Layout? layout))
            return layout;
        if (!Texts.Value.TryGetValue(name, out string? text))
            return null;
        layout = LayoutParser.Parse(text, name, name, depth);
        return Parsed.GetOrAdd(name, layout);
    }

    public static Layout Get(string name, int depth = 0) =>
        Find(name, depth) ?? throw new ArgumentException($"no part is named {name}", nameof(name));

    private static Dictionary<string, string> ReadTable()
    {
        var texts = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (string[] row in Table.Read("part-layouts", columns: 4))
            texts.Add(row[0], row[1]);
        return texts;
    }
}
