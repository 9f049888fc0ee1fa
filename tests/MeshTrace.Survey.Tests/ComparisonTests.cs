using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using MeshTrace.Commands;
using MeshTrace.Reports.Words;
using MeshTrace.Survey.Tests.Support;

namespace MeshTrace.Survey.Tests;

/// <summary><c>meshtrace-survey</c>: the numbers, counted here from the records, and what it says of what is no dataset.</summary>
public sealed partial class ComparisonTests : IDisposable
{
    private readonly SitesFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Numbers_AreThoseOfTheRecords()
    {
        _folder.Add("library/one.pcapng", "library");
        _folder.Add("library/two.pcapng", "boathouse");
        Make();
        List<JsonElement> records = [.. RecordsOf("library"), .. RecordsOf("boathouse")];
        List<JsonElement> presses = records.FindAll(record => Kind(record) == "press");
        Dictionary<string, string> site = Assert.Single(Csv("--as", "csv"));
        Assert.Equal("library", site["site"]);
        Assert.Equal("2", site["captures"]);
        Assert.Equal(Text(presses.Count), site["presses"]);
        foreach ((string column, string outcome) in ((string, string)[])[("answeredByAll", "all"), ("answeredBySome", "some"), ("lost", "none"), ("unknown", "unknown")])
            Assert.Equal(Text(presses.Count(press => press.GetProperty("outcome").GetString() == outcome)), site[column]);
        int known = presses.Count(press => press.GetProperty("outcome").GetString() != "unknown");
        Assert.Equal(presses.Count(press => press.GetProperty("outcome").GetString() == "all") / (double)known, Number(site["answeredShare"]), 1e-12);
        Assert.Equal(Median(presses, "latencyMs"), Number(site["latencyMs"]), 1e-9);
        Assert.Equal(Median(records.FindAll(record => Kind(record) == "node"), "heardShare"), Number(site["heardShare"]), 1e-9);
        foreach (IGrouping<string, JsonElement> finding in records.Where(record => Kind(record) == "finding").GroupBy(record => record.GetProperty("id").GetString()!))
            Assert.Equal(Text(finding.Count()), site["finding." + finding.Key]);
    }

    [Fact]
    public void Table_TellsTheSameInEightyColumns()
    {
        _folder.Add("library/one.pcapng", "library");
        _folder.Add("a site whose name is longer than its column/two.pcapng", "boathouse");
        _folder.Add("閲覧室と書庫と入口の照明と階段/three.pcapng", "boathouse");
        Make();
        Dictionary<string, string> library = Csv("--as", "csv").Single(site => site["site"] == "library");
        string table = Run.Compare(_folder.Dataset).Ended(ExitCode.Fine).Output;
        Assert.All(table.Split('\n'), line => Assert.True(DisplayWidth.Of(line) <= 80, line));
        string line = table.Split('\n').Single(line => line.StartsWith("library ", StringComparison.Ordinal));
        string[] numbers = [.. Numbers().Matches(line).Select(match => match.Value)];
        Assert.Equal([library["captures"], library["presses"], Rounded(100 * Number(library["answeredShare"])), library["answeredBySome"], library["lost"], library["unknown"], Rounded(Number(library["latencyMs"])), Rounded(100 * Number(library["heardShare"]))], numbers);
        foreach (string id in library.Keys.Where(key => key.StartsWith("finding.", StringComparison.Ordinal) && library[key] != "0"))
            Assert.Matches($@"\n +{library[id]}  (fault|warning|remark) +{id["finding.".Length..]}\n", table);
    }

    [Fact]
    public void ByCapture_EachHasItsLine()
    {
        _folder.Add("library/one.pcapng", "library");
        _folder.Add("library/two.pcapng", "boathouse");
        Make();
        Assert.Equal(["library/one.pcapng", "library/two.pcapng"], Csv("--by", "capture", "--as", "csv").Select(row => row["capture"]));
    }

    /// <summary>Names of sites and captures are names of folders and files: whatever a file system allows.</summary>
    [Theory]
    [InlineData("=cmd|' /C calc'!A0")]
    [InlineData("<script>alert(1)</script>")]
    [InlineData("it's [1]*? %41 {a}")]
    [InlineData("\e[31mred\a")]
    [InlineData("two\nlines")]
    [InlineData("2026-11-25")]
    [InlineData("007")]
    [InlineData("\U0001F4A1 \uFF1D1")]
    public void HostileNames_AreText(string name)
    {
        string file = name.Replace('/', '_');
        _folder.Add(Path.Combine(file, file), "boathouse", described: false);
        Run.Here("survey", _folder.Sites, "--to", _folder.Dataset, "--network", Repository.Demo("boathouse.network.json")).Ended(ExitCode.Fine);
        Assert.Equal($"{file}/{file}", Assert.Single(Sql.Rows("SELECT DISTINCT capture FROM read_parquet(?, hive_partitioning = true, hive_types = {'capture': VARCHAR})", Path.Combine(_folder.Dataset, "press", "capture=*", "*.parquet")))[0]);
        foreach (string[] options in (string[][])[[], ["--by", "capture"], ["--as", "csv"], ["--by", "capture", "--as", "csv"]])
        {
            string output = Run.Compare([_folder.Dataset, .. options]).Ended(ExitCode.Fine).Output;
            Assert.DoesNotContain(output, c => char.IsControl(c) && c is not ('\n' or '\r'));
            if (!options.Contains("csv"))
                continue;
            Assert.Equal(2, output.Split("\r\n", StringSplitOptions.RemoveEmptyEntries).Length);
            Assert.DoesNotMatch("^\"?[=+@-]", output.Split("\r\n")[1]);
        }
    }

    /// <summary>A reader that goes by least and greatest values must find names of every script: the order of UTF-16 is not that of UTF-8.</summary>
    [Fact]
    public void NamesOfAnyScript_AreFoundByFilters()
    {
        string[] names = ["\uFF1D wide", "\U0001F4A1 lamp", "plain"];
        string network = File.ReadAllText(Repository.Demo("library.network.json"));
        string[] old = [.. JsonSerializer.Deserialize<JsonElement>(network).GetProperty("nodes").EnumerateArray().Take(3).Select(node => node.GetProperty("name").GetRawText())];
        for (int i = 0; i < names.Length; i++)
            network = network.Replace(old[i], $"\"{names[i]}\"", StringComparison.Ordinal);
        File.WriteAllText(_folder.Place("network.json"), network);
        Run.Here("records", Repository.Demo("library.pcapng"), "--network", _folder.Place("network.json"), "--as", "parquet", "--to", _folder.Place("tables")).Ended(ExitCode.Fine);
        Assert.All(names, name => Assert.Equal(1, Sql.Number("SELECT count(*) FROM read_parquet(?) WHERE name = ?", Path.Combine(_folder.Place("tables"), "node.parquet"), name)));
    }

    [Fact]
    public void CaptureWhoseRowIsMissing_DoesNotCount()
    {
        _folder.Add("a/one.pcapng", "library");
        _folder.Add("b/two.pcapng", "boathouse");
        Make();
        Directory.Delete(Path.Combine(_folder.Dataset, "capture", "capture=a%2Fone.pcapng"), recursive: true);
        Assert.Equal("b", Assert.Single(Csv("--as", "csv"))["site"]);
    }

    [Fact]
    public void WhatIsNoDataset_IsRefused()
    {
        Assert.Contains("is no folder", Run.Compare(_folder.Dataset).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
        Assert.Contains("holds no table", Run.Compare(_folder.Sites).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
        _folder.Add("one.pcapng", "boathouse");
        Make();
        File.WriteAllText(Directory.GetFiles(Path.Combine(_folder.Dataset, "press"), "*.parquet", SearchOption.AllDirectories).Single(), "half a table");
        Outcome outcome = Run.Compare(_folder.Dataset).Ended(ExitCode.Unreadable);
        Assert.Contains("--redo", outcome.Error, StringComparison.Ordinal);
        Assert.Empty(outcome.Output);
    }

    [Theory]
    [InlineData]
    [InlineData("dataset", "--by", "floor")]
    [InlineData("dataset", "--as", "xml")]
    [InlineData("dataset", "another")]
    public void CommandLineThatCannotBeUnderstood_IsRefused(params string[] arguments) =>
        Assert.Contains("--help", Run.Compare(arguments).Ended(ExitCode.Usage).Error, StringComparison.Ordinal);

    [Fact]
    public void Help_NamesTheOptionsAndFits()
    {
        string help = Run.Compare("--help").Ended(ExitCode.Fine).Output;
        Assert.All((string[])["DATASET", "--by", "--as", "Exit codes"], word => Assert.Contains(word, help, StringComparison.Ordinal));
        Assert.All(help.Split('\n'), line => Assert.True(line.Length <= 82, line));
        Assert.Matches(@"^meshtrace-survey \d+\.\d+\.\d+\n$", Run.Compare("--version").Ended(ExitCode.Fine).Output);
    }

    private void Make() => Run.Here("survey", _folder.Sites, "--to", _folder.Dataset, "--only", "press").Ended(ExitCode.Fine);

    /// <summary>The rows of the comma-separated form, which holds no quoted comma here.</summary>
    private List<Dictionary<string, string>> Csv(params string[] options)
    {
        string[] lines = Run.Compare([_folder.Dataset, .. options]).Ended(ExitCode.Fine).Output.Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        string[] names = lines[0].Split(',');
        return [.. lines[1..].Select(line => names.Zip(line.Split(',')).ToDictionary(pair => pair.First, pair => pair.Second.Trim('"')))];
    }

    private static List<JsonElement> RecordsOf(string demo) =>
        [.. Run.Here("records", Repository.Demo(demo + ".pcapng"), "--network", Repository.Demo(demo + ".network.json")).Ended(ExitCode.Fine).Output
            .Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => JsonSerializer.Deserialize<JsonElement>(line))];

    private static string Kind(JsonElement record) => record.GetProperty("record").GetString()!;

    private static string Text(int count) => count.ToString(CultureInfo.InvariantCulture);

    private static double Number(string text) => double.Parse(text, CultureInfo.InvariantCulture);

    private static string Rounded(double value) => value.ToString("0", CultureInfo.InvariantCulture);

    private static double Median(IEnumerable<JsonElement> records, string member)
    {
        double[] values = [.. records.Select(record => record.GetProperty(member)).Where(value => value.ValueKind == JsonValueKind.Number).Select(value => value.GetDouble()).Order()];
        return (values[(values.Length - 1) / 2] + values[values.Length / 2]) / 2;
    }

    [GeneratedRegex(@"\d+")]
    private static partial Regex Numbers();
}
