using System.Globalization;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>Named values of a field, or named bits: the rows of enumerations.tsv with one name.</summary>
internal sealed class Enumeration
{
    private static readonly Lazy<Dictionary<string, Enumeration>> All = new(ReadTable);
    private readonly List<(long First, long Last, string Words)> _values = [];

    public static Enumeration? Find(string name) => All.Value.GetValueOrDefault(name);

    /// <summary>The words for a value, or null.</summary>
    public string? Words(long value)
    {
        foreach ((long first, long last, string words) in _values)
        {
            if (value >= first && value <= last)
                return words;
        }
        return null;
    }

    private static Dictionary<string, Enumeration> ReadTable()
    {
        var all = new Dictionary<string, Enumeration>(StringComparer.Ordinal);
        foreach (string[] cells in Table.Read("enumerations", columns: 4))
        {
            if (!all.TryGetValue(cells[0], out Enumeration? enumeration))
                all.Add(cells[0], enumeration = new Enumeration());
            string[] range = cells[1].Split("..");
            if (!Numerals.TryParse(range[0], out long first) || !Numerals.TryParse(range[^1], out long last))
                throw new InvalidDataException(string.Create(CultureInfo.InvariantCulture, $"table enumerations: {cells[0]} {cells[1]} is no value"));
            enumeration._values.Add((first, last, cells[2]));
        }
        return all;
    }
}
