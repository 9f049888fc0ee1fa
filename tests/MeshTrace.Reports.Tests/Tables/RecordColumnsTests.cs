using System.Text.Json;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Tables;

/// <summary>The columns follow the contract, and the records follow the columns: a member that has none is found here.</summary>
public sealed class RecordColumnsTests
{
    public static TheoryData<RecordKind> Kinds => [.. RecordKinds.All];

    [Theory, MemberData(nameof(Kinds))]
    public void EveryMemberOfARecord_HasItsColumnInItsPlace(RecordKind kind)
    {
        string line = Assert.Single(Lines.Of(EveryKind.Of(), kind, reveal: true));
        string[] members = [.. JsonSerializer.Deserialize<JsonElement>(line).EnumerateObject().Select(member => member.Name).Where(name => name != "record")];
        Assert.Equal(members, RecordColumns.Of(kind).Select(column => column.Name));
        Assert.Equal(RecordKinds.NameOf(kind), members[0]);
    }

    // Types as docs/records.md gives the forms.
    [Theory]
    [InlineData(RecordKind.Frame, "time", ColumnType.Time), InlineData(RecordKind.Frame, "rssi", ColumnType.Integer), InlineData(RecordKind.Frame, "advertiser", ColumnType.Text)]
    [InlineData(RecordKind.Frame, "carries", ColumnType.Json), InlineData(RecordKind.Frame, "crc", ColumnType.Text), InlineData(RecordKind.Frame, "frame", ColumnType.Integer)]
    [InlineData(RecordKind.Flood, "ctl", ColumnType.Flag), InlineData(RecordKind.Flood, "copies", ColumnType.Json), InlineData(RecordKind.Flood, "transportPdu", ColumnType.Text)]
    [InlineData(RecordKind.Message, "transMicBits", ColumnType.Integer), InlineData(RecordKind.Message, "fields", ColumnType.Json), InlineData(RecordKind.Message, "key", ColumnType.Text)]
    [InlineData(RecordKind.Press, "latencyMs", ColumnType.Real), InlineData(RecordKind.Press, "expected", ColumnType.Json), InlineData(RecordKind.Press, "acknowledged", ColumnType.Flag)]
    [InlineData(RecordKind.Beacon, "authenticated", ColumnType.Flag), InlineData(RecordKind.Node, "heardShare", ColumnType.Real), InlineData(RecordKind.Note, "shiftMs", ColumnType.Integer)]
    public void Types_AreThoseOfTheContract(RecordKind kind, string name, ColumnType type) =>
        Assert.Equal(type, RecordColumns.Of(kind).Single(column => column.Name == name).Type);

    [Fact]
    public void MemberThatTheContractDoesNotName_IsNotLostInSilence()
    {
        using var table = new CsvTable(Stream.Null, [new Column("press", ColumnType.Integer)]);
        using var rows = new RecordRows([new Column("press", ColumnType.Integer)], table);
        Assert.Contains("mood", Assert.Throws<InvalidOperationException>(() => rows.Write("{\"record\":\"press\",\"press\":1,\"mood\":2}"u8)).Message, StringComparison.Ordinal);
    }

    /// <summary>Two kinds may not need the same file, and a column may not stand twice.</summary>
    [Fact]
    public void Names_AreDistinct()
    {
        Assert.Equal(RecordKinds.All.Count, RecordKinds.All.Select(kind => TablesWriter.FileName(kind, TableForm.Csv)).Distinct().Count());
        Assert.All(RecordKinds.All, kind => Assert.Equal(RecordColumns.Of(kind).Count, RecordColumns.Of(kind).Select(column => column.Name.ToUpperInvariant()).Distinct().Count()));
    }
}
