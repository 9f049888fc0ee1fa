using MeshTrace.Analysis.History;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Tables;

/// <summary>
/// Writes a capture's records as tables, one a kind (docs/records.md, "Tables"). Memory does not grow with the number of records.
/// </summary>
public sealed class TablesWriter
{
    /// <summary>Longest text of a cell, in octets; a longer one is left empty and counted.</summary>
    public const int LongestCell = RecordRows.LongestCell;

    private readonly RecordsWriter _records;
    private readonly RecordsSettings _settings;
    private readonly TableForm _form;

    public TablesWriter(CaptureHistory history, RecordsSettings settings, TableForm form)
    {
        _records = new RecordsWriter(history, settings);
        _settings = settings;
        _form = form;
    }

    /// <summary>The kinds that are wanted, each a table.</summary>
    public IReadOnlyList<RecordKind> Kinds => [.. RecordKinds.All.Where(_settings.Wants)];

    /// <summary>Records of all tables.</summary>
    public long Total => _records.Total;

    /// <summary>Lists so long that their cells were left empty; the JSON lines hold them whole.</summary>
    public long CellsTooLong { get; private set; }

    /// <summary>The usual name of a table's file.</summary>
    public static string FileName(RecordKind kind, TableForm form) => RecordKinds.NameOf(kind) + (form == TableForm.Parquet ? ".parquet" : ".csv");

    /// <summary>Writes one table to the stream, which stays open; for Parquet it must be able to read and to seek.</summary>
    /// <param name="kind">One of <see cref="Kinds"/>.</param>
    /// <param name="output">Where to.</param>
    /// <param name="progress">Told now and then how many records of this table are written.</param>
    /// <param name="stop">Stops between two records; the table is not whole then.</param>
    /// <exception cref="IOException">The stream does not take it.</exception>
    /// <exception cref="OperationCanceledException">Stopped.</exception>
    public void Write(RecordKind kind, Stream output, Action<long>? progress = null, CancellationToken stop = default)
    {
        IReadOnlyList<Column> columns = RecordColumns.Of(kind);
        using ITable table = _form == TableForm.Parquet ? new ParquetTable(output, columns, _settings.ProgramVersion) : new CsvTable(output, columns);
        using var rows = new RecordRows(columns, table);
        _records.WriteKind(kind, rows, progress, stop);
        table.Complete();
        CellsTooLong += rows.CellsTooLong;
    }

    /// <summary>Writes the contract line: version, receivers, damages.</summary>
    public void WriteContract(Stream output) => _records.WriteContract(output);
}
