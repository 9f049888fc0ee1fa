using System.Text;
using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Reports.Records;

namespace MeshTrace.EndToEnd.Tests;

/// <summary><c>records --as csv|parquet</c> by the built program: what stands where, and what is refused.</summary>
public sealed class TablesTests : IDisposable
{
    private static readonly string[] Kinds = [.. RecordKinds.All.Where(kind => kind != RecordKind.Key).Select(RecordKinds.NameOf)];
    private readonly TemporaryFolder _folder = new();
    private readonly string _capture;

    public TablesTests() => _capture = _folder.Write("evening.pcap", Boathouse.Capture());

    public void Dispose() => _folder.Dispose();

    [Theory, InlineData("csv"), InlineData("parquet")]
    public void Folder_HoldsOneTableAKind(string form)
    {
        Outcome outcome = Program.Run(["records", _capture, "--as", form, "--to", _folder.File("tables"), .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Empty(outcome.Output);
        Assert.Equal(Kinds.Select(kind => $"{kind}.{form}").Append("contract.json").Order(), Directory.GetFileSystemEntries(_folder.File("tables")).Select(path => Path.GetFileName(path)!).Order());
        JsonElement contract = JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(Path.Combine(_folder.File("tables"), "contract.json")));
        RecordsSchema.Check([contract], "contract");
    }

    [Fact]
    public void OneTable_GoesToStandardOutput()
    {
        Outcome outcome = Program.Run(["records", _capture, "--as", "csv", "--only", "press", .. Boathouse.Keys]).Ended(ExitCode.Fine);
        string[] lines = outcome.Output.Split("\r\n");
        Assert.StartsWith("press,time,src,dst,tid,", lines[0], StringComparison.Ordinal);
        Assert.Equal(4, lines.Length);      // the names, two presses, and nothing after the last end of line
        Assert.StartsWith("2,", lines[2], StringComparison.Ordinal);
    }

    [Fact]
    public void Csv_HasAsManyLinesAsTheRecords_AndNoKey()
    {
        string[] demo = [Repository.Demo("library.pcapng"), "--network", Repository.Demo("library.network.json")];
        Program.Run(["records", .. demo, "--as", "csv", "--to", _folder.File("tables")]).Ended(ExitCode.Fine);
        List<JsonElement> records = Program.Run(["records", .. demo]).Ended(ExitCode.Fine).Records();
        string[] keys = [.. DescribedKeys.Of(Repository.Demo("library.network.json"))];
        Assert.NotEmpty(keys);
        foreach (string kind in Kinds)
        {
            string table = File.ReadAllText(Path.Combine(_folder.File("tables"), kind + ".csv"));
            Assert.Equal(records.Count(record => record.GetProperty("record").GetString() == kind), table.Split("\r\n").Length - 2);
            Assert.All(keys, key => Assert.DoesNotContain(key, table, StringComparison.OrdinalIgnoreCase));
        }
    }

    [Fact]
    public void RevealedKeys_AreATableOfTheirOwn()
    {
        Outcome outcome = Program.RunHere(["records", _capture, "--as", "csv", "--to", _folder.File("tables"), "--reveal-keys", .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Contains("warning", outcome.Error, StringComparison.Ordinal);
        Assert.Contains(Boathouse.NetKeyHex, File.ReadAllText(Path.Combine(_folder.File("tables"), "key.csv")), StringComparison.Ordinal);
        Assert.Equal("", Program.RunHere(["records", _capture, "--as", "csv", "--only", "key", .. Boathouse.Keys]).Ended(ExitCode.Fine).Output);
    }

    [Fact]
    public void TablesThatStandThere_AreReplacedOnlyWhenAsked()
    {
        string[] command = ["records", _capture, "--as", "csv", "--to", _folder.File("tables"), .. Boathouse.Keys];
        Program.RunHere(command).Ended(ExitCode.Fine);
        string press = Path.Combine(_folder.File("tables"), "press.csv");
        File.WriteAllText(press, "mine");
        Outcome outcome = Program.RunHere(command).Ended(ExitCode.Unwritable);
        Assert.Contains("stands there already", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("--overwrite", outcome.Error, StringComparison.Ordinal);
        Assert.Equal("mine", File.ReadAllText(press));
        Program.RunHere([.. command, "--overwrite"]).Ended(ExitCode.Fine);
        Assert.StartsWith("press,", File.ReadAllText(press), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("several tables to standard output", "--as", "csv")]
    [InlineData("two of them", "--as", "csv", "--only", "press,node")]
    [InlineData("parquet to standard output", "--as", "parquet", "--only", "press")]
    public void TablesWithoutAPlace_AreRefused(string why, params string[] options)
    {
        Outcome outcome = Program.RunHere(["records", _capture, .. options]).Ended(ExitCode.Usage);
        Assert.True(outcome.Error.Contains("--to", StringComparison.Ordinal), why);
        Assert.Empty(outcome.Output);
    }

    [Fact]
    public void PlaceThatIsAFile_IsRefused()
    {
        string file = _folder.Write("tables", "a file");
        Assert.Contains("cannot be written", Program.RunHere("records", _capture, "--as", "csv", "--to", file).Ended(ExitCode.Unwritable).Error, StringComparison.Ordinal);
        Assert.Equal("a file", File.ReadAllText(file));
        Assert.Contains("cannot be written", Program.RunHere("records", _capture, "--as", "parquet", "--to", Path.Combine(file, "below")).Ended(ExitCode.Unwritable).Error, StringComparison.Ordinal);
    }

    /// <summary>A capture that has a table's name is not a table.</summary>
    [Fact]
    public void Capture_IsNeverReplaced()
    {
        string capture = _folder.Write("press.csv", Boathouse.Capture());
        byte[] before = File.ReadAllBytes(capture);
        Program.RunHere("records", capture, "--as", "csv", "--to", Path.GetDirectoryName(capture)!, "--overwrite").Ended(ExitCode.Usage);
        Assert.Equal(before, File.ReadAllBytes(capture));
    }

    /// <summary>A device that is always full: no table stays half written.</summary>
    [SkippableFact]
    public void FullDisk_IsToldAndLeavesNothing()
    {
        Skip.IfNot(File.Exists("/dev/full"), "needs /dev/full, a device that is always full");
        Directory.CreateDirectory(_folder.File("tables"));
        File.CreateSymbolicLink(Path.Combine(_folder.File("tables"), "press.csv.part"), "/dev/full");
        Outcome outcome = Program.RunHere(["records", _capture, "--as", "csv", "--only", "press", "--to", _folder.File("tables"), .. Boathouse.Keys]).Ended(ExitCode.Unwritable);
        Assert.Contains("press.csv", outcome.Error, StringComparison.Ordinal);
        Assert.Empty(Directory.GetFiles(_folder.File("tables")));
    }

    [Fact]
    public void HostileNames_AreText()
    {
        const string Hostile = "=HYPERLINK(\\\"x\\\")<script>\\u001b[31m\\r\\n,stairs";
        string network = File.ReadAllText(Repository.Demo("boathouse.network.json"));
        string name = JsonSerializer.Deserialize<JsonElement>(network).GetProperty("nodes")[0].GetProperty("name").GetRawText();
        string described = _folder.Write("boathouse.network.json", network.Replace(name, $"\"{Hostile}\"", StringComparison.Ordinal));
        Program.Run("records", Repository.Demo("boathouse.pcapng"), "--network", described, "--as", "csv", "--to", _folder.File("tables")).Ended(ExitCode.Fine);
        foreach (string file in Directory.GetFiles(_folder.File("tables"), "*.csv"))
        {
            byte[] octets = File.ReadAllBytes(file);
            Assert.DoesNotContain((byte)0x1B, octets);
            Assert.DoesNotContain(",=", Encoding.UTF8.GetString(octets), StringComparison.Ordinal);
        }
        Assert.Contains("\"'=HYPERLINK(\"\"x\"\")<script>", File.ReadAllText(Path.Combine(_folder.File("tables"), "node.csv")), StringComparison.Ordinal);
    }
}
