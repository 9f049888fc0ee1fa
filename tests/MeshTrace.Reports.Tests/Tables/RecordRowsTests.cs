using System.Text;
using CsCheck;
using MeshTrace.Analysis.History;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Tables;

/// <summary>From lines of JSON, in pieces as they come, to cells.</summary>
public sealed class RecordRowsTests
{
    private static readonly Column[] Columns = [new("press", ColumnType.Integer), new("name", ColumnType.Text), new("list", ColumnType.Json), new("ok", ColumnType.Flag)];

    private const string TwoLines = """
        {"record":"press","press":1,"name":"l\u0061mp \"5\" \\","list":[{"a":[1,"}]"]},{}],"ok":true}
        {"record":"press","press":2,"name":null,"list":{"b":{"c":[]},"d":"\"[{"},"ok":null}

        """;

    private const string TwoRows = "press,name,list,ok\r\n1,\"lamp \"\"5\"\" \\\",\"[{\"\"a\"\":[1,\"\"}]\"\"]},{}]\",true\r\n2,,\"{\"\"b\"\":{\"\"c\"\":[]},\"\"d\"\":\"\"\\\"\"[{\"\"}\",\r\n";

    [Fact]
    public void Pieces_OfAnyLength_GiveTheSameTable() => Gen.Int[1, 40].Array[1, 60].Sample(lengths =>
    {
        byte[] lines = Encoding.UTF8.GetBytes(TwoLines);
        using var stream = new MemoryStream();
        using (var table = new CsvTable(stream, Columns))
        using (var rows = new RecordRows(Columns, table))
        {
            for (int at = 0, i = 0; at < lines.Length; i++)
            {
                int length = Math.Min(lengths[i % lengths.Length], lines.Length - at);
                rows.Write(lines.AsSpan(at, length));
                at += length;
            }
            table.Complete();
        }
        Assert.Equal(TwoRows, Encoding.UTF8.GetString(stream.ToArray()));
    });

    [Fact]
    public void ListThatIsTooLong_IsLeftOutAndCounted()
    {
        var story = new Story();
        var copies = new FloodCopy[40_000];         // more than 100 octets each
        for (int i = 0; i < copies.Length; i++)
            copies[i] = new FloodCopy(story.Frame(), 5);
        story.Flood(0x0003, 0xC001, 100, [0x66], copies);
        story.Flood(0x0003, 0xC001, 101, [0x66], new FloodCopy(0, 5));
        using var stream = new MemoryStream();
        var tables = new TablesWriter(story.History, new RecordsSettings(), TableForm.Csv);
        tables.Write(RecordKind.Flood, stream);
        Assert.Equal(1, tables.CellsTooLong);
        List<List<string?>> rows = CsvReading.Read(stream.ToArray());
        Assert.Equal(3, rows.Count);
        Assert.Equal("[{\"ttl\":5,\"copies\":40000}]", rows[1][^3]);
        Assert.Null(rows[1][^1]);
        Assert.StartsWith("[{\"frame\":1,", rows[2][^1], StringComparison.Ordinal);
    }

    [Fact]
    public void Stopped_GivesUp()
    {
        var story = new Story();
        for (int i = 0; i < 20_000; i++)
            story.Frame();
        using var stop = new CancellationTokenSource();
        foreach (TableForm form in Enum.GetValues<TableForm>())
        {
            using var stream = new MemoryStream();
            var tables = new TablesWriter(story.History, new RecordsSettings(), form);
            Assert.Throws<OperationCanceledException>(() => tables.Write(RecordKind.Frame, stream, _ => stop.Cancel(), stop.Token));
        }
    }
}
