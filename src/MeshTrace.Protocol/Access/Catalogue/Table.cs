using System.Text;

namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>
/// One of the tables that the program decodes with: tab-separated UTF-8 text inside the assembly, a header line, no quoting, one fact a row.
/// Opening finds the lines; the cells of a row are made when asked for, so that the start of the program does not pay for rows that no capture needs.
/// </summary>
internal sealed class Table
{
    private const byte Tab = (byte)'\t', Newline = (byte)'\n';

    private readonly string _name;
    private readonly int _columns;
    private readonly byte[] _text;
    private readonly int[] _starts;     // offsets of the rows, and of the end

    private Table(string name, int columns, byte[] text)
    {
        _name = name;
        _columns = columns;
        _text = text;
        _starts = RowStarts(text);
    }

    public int Count => _starts.Length - 1;

    /// <param name="name">File name without its ending.</param>
    /// <param name="columns">Columns that each row must have.</param>
    public static Table Open(string name, int columns)
    {
        using Stream stream = typeof(Table).Assembly.GetManifestResourceStream($"MeshTrace.Protocol.Access.Catalogue.Tables.{name}.tsv")
            ?? throw new InvalidDataException($"table {name} is not in the assembly");
        byte[] text = new byte[stream.Length];
        stream.ReadExactly(text);
        return new Table(name, columns, text);
    }

    /// <summary>All rows of a table.</summary>
    public static List<string[]> Read(string name, int columns)
    {
        Table table = Open(name, columns);
        var rows = new List<string[]>(table.Count);
        for (int i = 0; i < table.Count; i++)
            rows.Add(table.Cells(i));
        return rows;
    }

    /// <summary>The text of the first column, which is the key in most tables.</summary>
    public ReadOnlySpan<byte> Key(int row)
    {
        ReadOnlySpan<byte> line = Line(row);
        int end = line.IndexOf(Tab);
        return end < 0 ? line : line[..end];
    }

    /// <summary>The cells of a row. Another number of them than the table has columns is a mistake of the table.</summary>
    public string[] Cells(int row)
    {
        var cells = new string[_columns];
        ReadOnlySpan<byte> rest = Line(row);
        for (int i = 0; i < _columns; i++)
        {
            int end = rest.IndexOf(Tab);
            bool isLast = i == _columns - 1;
            if (isLast != end < 0)
                throw new InvalidDataException($"table {_name}, line {row + 2}: {_columns} columns expected");
            cells[i] = Encoding.UTF8.GetString(isLast ? rest : rest[..end]);
            rest = rest[(end + 1)..];
        }
        return cells;
    }

    private ReadOnlySpan<byte> Line(int row) => _text.AsSpan(_starts[row], _starts[row + 1] - _starts[row] - 1);

    // Each line ends with a newline, the last one too; the first is the header.
    private static int[] RowStarts(ReadOnlySpan<byte> text)
    {
        var starts = new List<int>(512);
        for (int at = text.IndexOf(Newline) + 1; at > 0;)
        {
            starts.Add(at);
            int length = text[at..].IndexOf(Newline) + 1;
            at = length == 0 ? 0 : at + length;
        }
        return [.. starts];
    }
}
