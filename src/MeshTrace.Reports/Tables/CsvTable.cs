using System.Buffers;
using System.Text;

namespace MeshTrace.Reports.Tables;

/// <summary>A table as comma-separated values: a line with the names, then one line a record, ended by CR LF (RFC 4180).</summary>
internal sealed class CsvTable : ITable
{
    private const int SpillOctets = 1 << 16;

#pragma warning disable CA2213 // the stream is the caller's
    private readonly Stream _output;
#pragma warning restore CA2213
    private readonly ArrayBufferWriter<byte> _row = new(1 << 12), _buffer = new(SpillOctets + (1 << 12));
    private readonly Range[] _cells;
    private readonly ColumnType[] _types;

    public CsvTable(Stream output, IReadOnlyList<Column> columns)
    {
        _output = output;
        _cells = new Range[columns.Count];
        _types = [.. columns.Select(column => column.Type)];
        for (int i = 0; i < columns.Count; i++)
            Text(i, Encoding.UTF8.GetBytes(columns[i].Name));
        EndRow();
    }

    public void Number(int column, ReadOnlySpan<byte> digits) => Raw(column, digits);

    public void Flag(int column, bool value) => Raw(column, value ? "true"u8 : "false"u8);

    public void Text(int column, ReadOnlySpan<byte> utf8)
    {
        if (_types[column] == ColumnType.Time)
        {
            Raw(column, utf8);
            return;
        }
        int from = _row.WrittenCount;
        CsvText.Write(_row, utf8);
        _cells[column] = from.._row.WrittenCount;
    }

    public void EndRow()
    {
        ReadOnlySpan<byte> row = _row.WrittenSpan;
        for (int i = 0; i < _cells.Length; i++)
        {
            if (i > 0)
                _buffer.Write(","u8);
            _buffer.Write(row[_cells[i]]);
            _cells[i] = default;
        }
        _buffer.Write("\r\n"u8);
        _row.ResetWrittenCount();
        if (_buffer.WrittenCount >= SpillOctets)
            Spill();
    }

    public void Complete()
    {
        Spill();
        _output.Flush();
    }

    public void Dispose()
    {
    }

    private void Raw(int column, ReadOnlySpan<byte> utf8)
    {
        int from = _row.WrittenCount;
        _row.Write(utf8);
        _cells[column] = from.._row.WrittenCount;
    }

    private void Spill()
    {
        _output.Write(_buffer.WrittenSpan);
        _buffer.ResetWrittenCount();
    }
}
