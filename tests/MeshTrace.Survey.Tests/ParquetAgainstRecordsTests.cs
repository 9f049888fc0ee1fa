using System.Globalization;
using System.Text;
using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;
using MeshTrace.Survey.Tests.Support;

namespace MeshTrace.Survey.Tests;

/// <summary>The tables of the demo captures, read by an independent reader and held against the JSON lines: every row, every column.</summary>
public sealed class ParquetAgainstRecordsTests : IClassFixture<ParquetAgainstRecordsTests.Written>
{
    private readonly Written _written;

    public ParquetAgainstRecordsTests(Written written) => _written = written;

    public static TheoryData<string, RecordKind> Tables
    {
        get
        {
            var tables = new TheoryData<string, RecordKind>();
            foreach (string demo in (string[])["library", "boathouse"])
            {
                foreach (RecordKind kind in RecordKinds.All.Where(kind => kind != RecordKind.Key))
                    tables.Add(demo, kind);
            }
            return tables;
        }
    }

    [Theory, MemberData(nameof(Tables))]
    public void EveryCell_IsWhatTheRecordSays(string demo, RecordKind kind)
    {
        List<JsonElement> records = _written.Records(demo, kind);
        IReadOnlyList<Column> columns = RecordColumns.Of(kind);
        string selected = string.Join(", ", columns.Select(column => column.Type == ColumnType.Time ? $"epoch_us(\"{column.Name}\")" : $"\"{column.Name}\""));
        List<string?[]> rows = Sql.Rows($"SELECT {selected} FROM read_parquet(?) ORDER BY \"{columns[0].Name}\"", _written.Parquet(demo, kind));
        Assert.Equal(records.Count, rows.Count);
        for (int i = 0; i < rows.Count; i++)
        {
            for (int column = 0; column < columns.Count; column++)
                Assert.Equal(Expected(records[i].GetProperty(columns[column].Name), columns[column].Type), rows[i][column]);
        }
    }

    [Theory, MemberData(nameof(Tables))]
    public void Csv_HasTheSameRows(string demo, RecordKind kind) =>
        Assert.Equal(_written.Records(demo, kind).Count, Sql.Number("SELECT count(*) FROM read_csv(?, all_varchar = true, header = true, delim = ',', quote = '\"', strict_mode = true)", _written.Csv(demo, kind)));

    [Theory]
    [InlineData(RecordKind.Frame, "time", "TIMESTAMP WITH TIME ZONE"), InlineData(RecordKind.Frame, "rssi", "BIGINT"), InlineData(RecordKind.Flood, "ctl", "BOOLEAN")]
    [InlineData(RecordKind.Press, "latencyMs", "DOUBLE"), InlineData(RecordKind.Press, "asks", "VARCHAR"), InlineData(RecordKind.Press, "expected", "VARCHAR")]
    [InlineData(RecordKind.Provisioning, "firstTime", "TIMESTAMP WITH TIME ZONE")]
    public void Columns_HaveTheirTypes(RecordKind kind, string column, string type) =>
        Assert.Equal(type, Sql.Rows("DESCRIBE SELECT * FROM read_parquet(?)", _written.Parquet("library", kind)).Single(row => row[0] == column)[1]);

    /// <summary>
    /// Readers pass over row groups whose least and greatest values say that nothing in them fits: these must be right or absent. Each value of each
    /// column is looked for, and found as often as it stands there.
    /// </summary>
    [Theory, MemberData(nameof(Tables))]
    public void Filters_FindWhatIsThere(string demo, RecordKind kind)
    {
        const int Looked = 12;
        string file = _written.Parquet(demo, kind);
        foreach (Column column in RecordColumns.Of(kind))
        {
            List<string?[]> values = Sql.Rows($"SELECT \"{column.Name}\"::VARCHAR, count(*) FROM read_parquet(?) WHERE \"{column.Name}\" IS NOT NULL GROUP BY 1 ORDER BY 1 LIMIT {Looked}", file);
            string type = column.Type switch { ColumnType.Time => "TIMESTAMPTZ", ColumnType.Integer => "BIGINT", ColumnType.Real => "DOUBLE", ColumnType.Flag => "BOOLEAN", _ => "VARCHAR" };
            foreach (string?[] value in values)
                Assert.Equal(long.Parse(value[1]!, CultureInfo.InvariantCulture), Sql.Number($"SELECT count(*) FROM read_parquet(?) WHERE \"{column.Name}\" = ?::{type}", file, value[0]!));
        }
    }

    [Fact]
    public void JsonText_IsTakenApartAsTheDocumentShows()
    {
        long elements = _written.Records("library", RecordKind.Press).Sum(press => press.GetProperty("expected") is { ValueKind: JsonValueKind.Array } expected ? expected.GetArrayLength() : 0);
        Assert.Equal(elements, Sql.Number("SELECT count(*) FROM (SELECT unnest(from_json(expected, '[\"VARCHAR\"]')) FROM read_parquet(?))", _written.Parquet("library", RecordKind.Press)));
    }

    [Fact]
    public void NoTable_HoldsAKey()
    {
        foreach (string demo in (string[])["library", "boathouse"])
        {
            string[] keys = [.. Values(Description(demo), "key", "oldKey", "deviceKey")];
            Assert.True(keys.Length >= 4, "the demo has no keys to look for");
            string all = Cells(kind => _written.Parquet(demo, kind));
            Assert.All(keys, key => Assert.DoesNotContain(key, all, StringComparison.OrdinalIgnoreCase));
        }
    }

    [Theory, InlineData("library"), InlineData("boathouse")]
    public void NoRedactedTable_HoldsAKeyNameOrDevice(string demo)
    {
        using var folder = new SitesFolder();
        string tables = folder.Place("redacted");
        Run.Here("records", Repository.Demo(demo + ".pcapng"), "--network", Repository.Demo(demo + ".network.json"), "--redact", "--as", "parquet", "--to", tables).Ended(ExitCode.Fine);
        JsonElement description = Description(demo);
        IEnumerable<string> names = description.GetProperty("nodes").EnumerateArray().Select(node => node.GetProperty("name").GetString()!), uuids = Values(description, "UUID", "meshUUID");
        string[] real = [.. Values(description, "key", "oldKey", "deviceKey"), .. names, .. uuids, .. uuids.Select(uuid => uuid.Replace("-", "", StringComparison.Ordinal))];
        string all = Cells(kind => Path.Combine(tables, TablesWriter.FileName(kind, TableForm.Parquet))), plain = Cells(kind => _written.Parquet(demo, kind));
        Assert.Contains(real, one => plain.Contains(one, StringComparison.OrdinalIgnoreCase));      // else nothing would be proven
        Assert.All(real, one => Assert.DoesNotContain(one, all, StringComparison.OrdinalIgnoreCase));
    }

    private static JsonElement Description(string demo) => JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(Repository.Demo(demo + ".network.json")));

    /// <summary>All cells of all tables.</summary>
    private static string Cells(Func<RecordKind, string> file)
    {
        var all = new StringBuilder();
        foreach (RecordKind kind in RecordKinds.All.Where(kind => kind != RecordKind.Key))
            foreach (string?[] row in Sql.Rows($"SELECT {string.Join(" || '|' || ", RecordColumns.Of(kind).Select(column => $"coalesce(\"{column.Name}\"::VARCHAR, '')"))} FROM read_parquet(?)", file(kind)))
                all.Append(row[0]).Append('\n');
        return all.ToString();
    }

    private static string? Expected(JsonElement member, ColumnType type) => member.ValueKind switch
    {
        JsonValueKind.Null => null,
        JsonValueKind.True => "True",
        JsonValueKind.False => "False",
        JsonValueKind.Number when type == ColumnType.Real => Convert.ToString(member.GetDouble(), CultureInfo.InvariantCulture),
        JsonValueKind.String when type == ColumnType.Time => Microseconds(member.GetString()!),
        JsonValueKind.String => member.GetString(),
        _ => member.GetRawText(),
    };

    private static string Microseconds(string time)
    {
        DateTimeOffset parsed = DateTimeOffset.Parse(time[..26] + "Z", CultureInfo.InvariantCulture);       // six of nine decimals
        return ((parsed - DateTimeOffset.UnixEpoch).Ticks / TimeSpan.TicksPerMicrosecond).ToString(CultureInfo.InvariantCulture);
    }

    private static IEnumerable<string> Values(JsonElement element, params string[] names) => element.ValueKind switch
    {
        JsonValueKind.Object => element.EnumerateObject().SelectMany(member =>
            names.Contains(member.Name) && member.Value.ValueKind == JsonValueKind.String ? [member.Value.GetString()!] : Values(member.Value, names)),
        JsonValueKind.Array => element.EnumerateArray().SelectMany(item => Values(item, names)),
        _ => [],
    };

    /// <summary>Both demo captures in all three forms.</summary>
    public sealed class Written : IDisposable
    {
        private readonly SitesFolder _folder = new();
        private readonly Dictionary<string, ILookup<string, JsonElement>> _records = [];

        public Written()
        {
            foreach (string demo in (string[])["library", "boathouse"])
            {
                string[] command = ["records", Repository.Demo(demo + ".pcapng"), "--network", Repository.Demo(demo + ".network.json")];
                foreach (string form in (string[])["csv", "parquet"])
                    Run.Here([.. command, "--as", form, "--to", _folder.Place($"{demo}-{form}")]).Ended(ExitCode.Fine);
                _records[demo] = Run.Here(command).Ended(ExitCode.Fine).Output.Split('\n', StringSplitOptions.RemoveEmptyEntries)
                    .Select(line => JsonSerializer.Deserialize<JsonElement>(line)).ToLookup(record => record.GetProperty("record").GetString()!);
            }
        }

        internal List<JsonElement> Records(string demo, RecordKind kind) => [.. _records[demo][RecordKinds.NameOf(kind)]];

        internal string Parquet(string demo, RecordKind kind) => Path.Combine(_folder.Place(demo + "-parquet"), TablesWriter.FileName(kind, TableForm.Parquet));

        internal string Csv(string demo, RecordKind kind) => Path.Combine(_folder.Place(demo + "-csv"), TablesWriter.FileName(kind, TableForm.Csv));

        public void Dispose() => _folder.Dispose();
    }
}
