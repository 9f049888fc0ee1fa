using System.IO.Compression;
using MeshTrace.Reports.Records;
using Parquet;
using Parquet.Schema;

namespace MeshTrace.Reports.Tables;

/// <summary>A table as Apache Parquet, written row group by row group: no more than one of them is in memory.</summary>
internal sealed class ParquetTable : ITable
{
    private const int RowsAGroup = 1 << 16;
    private const long TextAGroup = 1L << 22;       // long cells make short groups

    private readonly ParquetColumn[] _columns;
    private readonly ParquetWriter _writer;
#pragma warning disable CA2213 // the stream is the caller's
    private readonly Stream _output;
#pragma warning restore CA2213
    private int _rows;
    private long _text;
    private bool _closed;

    /// <param name="output">Where to; must be able to read and to seek.</param>
    /// <param name="columns">The columns.</param>
    /// <param name="programVersion">Told in the file's metadata, beside the version of the contract.</param>
    public ParquetTable(Stream output, IReadOnlyList<Column> columns, string programVersion)
    {
        _output = output;
        _columns = [.. columns.Select(column => ParquetColumn.Of(column, RowsAGroup))];
        var options = new ParquetOptions
        {
            CompressionMethod = CompressionMethod.Zstd, CompressionLevel = CompressionLevel.Fastest,
            MaximumSmallPoolFreeBytes = 1 << 24, MaximumLargePoolFreeBytes = 1 << 26,       // without limits the library keeps every buffer it ever had
        };
        _writer = Finish(ParquetWriter.CreateAsync(new ParquetSchema(_columns.Select(column => column.Field)), output, options));
        _writer.CustomMetadata = new Dictionary<string, string>
        {
            ["meshtrace-records"] = RecordsWriter.ContractVersion.ToString(System.Globalization.CultureInfo.InvariantCulture), ["program"] = programVersion,
        };
    }

    public void Number(int column, ReadOnlySpan<byte> digits) => _columns[column].Set(_rows, digits);

    public void Flag(int column, bool value) => _columns[column].Set(_rows, value);

    public void Text(int column, ReadOnlySpan<byte> utf8)
    {
        _columns[column].Set(_rows, utf8);
        _text += utf8.Length;
    }

    public void EndRow()
    {
        if (++_rows == RowsAGroup || _text >= TextAGroup)
            WriteGroup();
    }

    public void Complete()
    {
        if (_rows > 0)
            WriteGroup();
        Close();
        ParquetFooter.DropStatistics(_output, [.. _columns.Select(column => column.StatisticsAreWrong)]);
        _output.Flush();
    }

    public void Dispose() => Close();

    private void WriteGroup()
    {
        using (ParquetRowGroupWriter group = _writer.CreateRowGroup())
        {
            foreach (ParquetColumn column in _columns)
                column.WriteAsync(group, _rows).GetAwaiter().GetResult();
            group.CompleteValidate();
        }
        _rows = 0;
        _text = 0;
    }

    /// <summary>The file's last part is written when the library's writer is closed.</summary>
    private void Close()
    {
        if (_closed)
            return;
        _closed = true;
        _writer.DisposeAsync().AsTask().GetAwaiter().GetResult();
    }

    /// <summary>The library has asynchronous calls only; the stream behind it is an ordinary file, and nobody else waits for this thread.</summary>
    private static T Finish<T>(Task<T> task) => task.GetAwaiter().GetResult();
}
