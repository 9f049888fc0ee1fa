using System.Globalization;
using System.Text.Json;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;

namespace MeshTrace.Datasets;

/// <summary>The table <c>capture</c> of a dataset: one row a capture, written last, so that a capture which has it has all its tables.</summary>
internal static class CaptureTable
{
    public const string Name = "capture";

    private static readonly Column[] Columns =
    [
        new("site", ColumnType.Text), new("size", ColumnType.Integer), new("modified", ColumnType.Time), new("network", ColumnType.Text), new("program", ColumnType.Text),
        new("result", ColumnType.Text), new("firstTime", ColumnType.Time), new("lastTime", ColumnType.Time), new("frames", ColumnType.Integer), new("floods", ColumnType.Integer),
        new("presses", ColumnType.Integer),
    ];

    /// <summary>Writes the row as Parquet; the stream must be able to read and to seek.</summary>
    public static void Write(Stream output, FoundCapture capture, CaptureStamp stamp, string result, CaptureHistory history)
    {
        (long? first, long? last) = Times(history);
        var row = new MemoryStream();
        using (var json = new Utf8JsonWriter(row))
        {
            json.WriteStartObject();
            json.WriteString("site", capture.Site);
            json.WriteNumber("size", stamp.Size);
            json.WriteString("modified", stamp.Modified.ToString("yyyy-MM-ddTHH:mm:ss.fffffff00Z", CultureInfo.InvariantCulture));
            json.WriteString("network", stamp.Network);
            json.WriteString("program", stamp.Program);
            json.WriteString("result", result);
            Time(json, "firstTime", first);
            Time(json, "lastTime", last);
            json.WriteNumber("frames", history.Frames.Count);
            json.WriteNumber("floods", history.Floods.Count);
            json.WriteNumber("presses", history.Presses.Count);
            json.WriteEndObject();
        }
        using var table = new ParquetTable(output, Columns, ProgramVersion.Text);
        using var rows = new RecordRows(Columns, table);
        rows.Write(row.GetBuffer().AsSpan(0, (int)row.Length));
        table.Complete();
    }

    private static void Time(Utf8JsonWriter json, string name, long? timeNs)
    {
        if (timeNs is { } known && new TimeText().TryFormat(known, out ReadOnlySpan<byte> text))
            json.WriteString(name, text);
        else
            json.WriteNull(name);
    }

    private static (long? First, long? Last) Times(CaptureHistory history)
    {
        long first = long.MaxValue, last = long.MinValue;
        for (int row = 0; row < history.Frames.Count; row++)
        {
            long time = history.Frames[row].TimeNs;
            if (time == CapturedFrame.NoTime)
                continue;
            first = Math.Min(first, time);
            last = Math.Max(last, time);
        }
        return first <= last ? (first, last) : (null, null);
    }
}
