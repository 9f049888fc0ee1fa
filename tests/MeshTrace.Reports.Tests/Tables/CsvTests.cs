using System.Buffers;
using System.Text;
using System.Text.Json;
using CsCheck;
using MeshTrace.Analysis.History;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Tables;

/// <summary>Comma-separated values: RFC 4180 for the form; which first characters a spreadsheet takes for a formula is common practice, no source.</summary>
public sealed class CsvTests
{
    [Theory]
    [InlineData("stairs", "stairs")]
    [InlineData("0x0003", "0x0003")]
    [InlineData("", "\"\"")]
    [InlineData("reading room, left", "\"reading room, left\"")]
    [InlineData("the \"quiet\" room", "\"the \"\"quiet\"\" room\"")]
    [InlineData("a;b", "\"a;b\"")]
    [InlineData(" stairs ", "\" stairs \"")]
    [InlineData("閲覧室", "\"閲覧室\"")]
    [InlineData("<script>alert(1)</script>", "<script>alert(1)</script>")]
    [InlineData("=cmd|' /C calc'!A0", "\"'=cmd|' /C calc'!A0\"")]
    [InlineData("+1", "\"'+1\"")]
    [InlineData("-1+2", "\"'-1+2\"")]
    [InlineData("@SUM(1)", "\"'@SUM(1)\"")]
    [InlineData("  =1", "\"'  =1\"")]
    [InlineData("\uFF1D1", "\"'\uFF1D1\"")]
    [InlineData("\uFF0B1", "\"'\uFF0B1\"")]
    [InlineData("\uFF0D1", "\"'\uFF0D1\"")]
    [InlineData("\uFF201", "\"'\uFF201\"")]
    [InlineData("\t=1", "\"'\\t=1\"")]
    [InlineData("\r=1", "\"'\\r=1\"")]
    [InlineData("\n=1", "\"'\\n=1\"")]
    [InlineData("two\nlines\r\n", "\"two\\nlines\\r\\n\"")]
    [InlineData("\e[31mred\a\0\u007F", "\"\\u001b[31mred\\u0007\\u0000\\u007f\"")]
    [InlineData("a\u0085b\u009B31m\u2028c\u2029", "\"a\\u0085b\\u009b31m\\u2028c\\u2029\"")]
    [InlineData("a=b", "a=b")]
    public void Cell_CanDoNothing(string text, string cell)
    {
        var output = new ArrayBufferWriter<byte>();
        CsvText.Write(output, Encoding.UTF8.GetBytes(text));
        Assert.Equal(cell, Encoding.UTF8.GetString(output.WrittenSpan));
    }

    /// <summary>Whatever the text: one cell in one line, which begins harmlessly.</summary>
    [Fact]
    public void Cell_OfAnyText_IsOneLineAndNoFormula() => Gen.String.Sample(text =>
    {
        var output = new ArrayBufferWriter<byte>();
        CsvText.Write(output, Encoding.UTF8.GetBytes(text));
        output.Write("\r\n"u8);
        string? cell = Assert.Single(Assert.Single(CsvReading.Read(output.WrittenSpan)));
        Assert.DoesNotContain(cell!, char.IsControl);
        Assert.DoesNotMatch("^ *[=+@\uFF1D\uFF0B\uFF0D\uFF20-]", cell);
    });

    [Fact]
    public void Tables_HoldWhatTheRecordsHold()
    {
        foreach (RecordKind kind in RecordKinds.All)
        {
            JsonElement record = JsonSerializer.Deserialize<JsonElement>(Assert.Single(Lines.Of(EveryKind.Of(), kind, reveal: true)));
            List<List<string?>> rows = CsvReading.Read(Written(EveryKind.Of(), kind));
            Assert.Equal(2, rows.Count);
            Assert.Equal(RecordColumns.Of(kind).Select(column => column.Name), rows[0]);
            for (int i = 0; i < rows[0].Count; i++)
            {
                JsonElement member = record.GetProperty(rows[0][i]!);
                string? expected = member.ValueKind switch { JsonValueKind.Null => null, JsonValueKind.String => member.GetString(), _ => member.GetRawText() };
                Assert.Equal(expected, rows[1][i]);
            }
        }
    }

    [Fact]
    public void HostileNames_AreTextAndNothingElse()
    {
        const string Name = "=cmd|' /C calc'!A0,\"\e]0;owned\a\r\n<script>";
        foreach (RecordKind kind in (RecordKind[])[RecordKind.Node, RecordKind.Note, RecordKind.Finding])
        {
            byte[] file = Written(EveryKind.Of(Name), kind);
            Assert.DoesNotContain((byte)0x1B, file);
            Assert.Equal(2, file.Count(octet => octet == '\n'));
            Assert.Contains(CsvReading.Read(file)[1], cell => cell?.Contains("=cmd|' /C calc'!A0,\"\\u001b]0;owned\\u0007\\r\\n<script>", StringComparison.Ordinal) == true);
        }
        Assert.StartsWith("'=cmd", CsvReading.Read(Written(EveryKind.Of(Name), RecordKind.Node))[1][3], StringComparison.Ordinal);
    }

    [Fact]
    public void NegativeNumbers_StayNumbers() => Assert.Equal("-71", CsvReading.Read(Written(EveryKind.Of(), RecordKind.Node))[1][^1]);

    [Fact]
    public void TableWithoutRecords_HasItsNames() =>
        Assert.Equal(RecordColumns.Of(RecordKind.Press).Select(column => column.Name), Assert.Single(CsvReading.Read(Written(new Story().History, RecordKind.Press))));

    private static byte[] Written(CaptureHistory history, RecordKind kind)
    {
        using var stream = new MemoryStream();
        new TablesWriter(history, new RecordsSettings { RevealKeys = true }, TableForm.Csv).Write(kind, stream);
        return stream.ToArray();
    }
}
