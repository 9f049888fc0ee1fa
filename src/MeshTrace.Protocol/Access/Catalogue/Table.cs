using System.Reflection;
using System.Text;

namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>
/// The tables that the program decodes with: tab-separated UTF-8 text inside the assembly, a header line, no quoting, one fact a row.
/// A row with another number of columns than its header is a mistake of the table and throws.
/// </summary>
internal static class Table
{
    /// <param name="name">File name without its ending.</param>
    /// <param name="columns">Columns that the header must have.</param>
    public static List<string[]> Read(string name, int columns)
    {
        string text = Text(name);
        var rows = new List<string[]>(64);
        int line = 0;
        foreach (ReadOnlySpan<char> row in text.AsSpan().EnumerateLines())
        {
            line++;
            if (row.IsEmpty)
                continue;
            var cells = new string[columns];
            int count = 0;
            foreach (Range cell in row.Split('\t'))
            {
                if (count < columns)
                    cells[count] = row[cell] is [] ? "" : row[cell].ToString();
                count++;
            }
            if (count != columns)
                throw new InvalidDataException($"table {name}, line {line}: {count} columns, {columns} expected");
            if (line > 1)
                rows.Add(cells);
        }
        return rows;
    }

    private static string Text(string name)
    {
        Assembly assembly = typeof(Table).Assembly;
        using Stream stream = assembly.GetManifestResourceStream($"MeshTrace.Protocol.Access.Catalogue.Tables.{name}.tsv")
            ?? throw new InvalidDataException($"table {name} is not in the assembly");
        using var reader = new StreamReader(stream, Encoding.UTF8);
        return reader.ReadToEnd();
    }
}
