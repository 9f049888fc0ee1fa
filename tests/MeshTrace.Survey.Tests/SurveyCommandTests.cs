using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.Reports.Records;
using MeshTrace.Survey.Tests.Support;

namespace MeshTrace.Survey.Tests;

/// <summary><c>meshtrace survey</c>: what it takes for captures, what it skips, and what does not stop it.</summary>
public sealed class SurveyCommandTests : IDisposable
{
    private static readonly string[] Kinds = [.. RecordKinds.All.Where(kind => kind != RecordKind.Key).Select(RecordKinds.NameOf)];
    private readonly SitesFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void BuiltProgram_WritesTheDatasetAndComparesTheSites()
    {
        _folder.Add("north/monday.pcapng", "library");
        _folder.Add("north/tuesday.pcapng", "boathouse");
        _folder.Add("south.pcapng", "boathouse");
        Outcome outcome = Run.Program("survey", _folder.Sites, "--to", _folder.Dataset).Ended(ExitCode.Fine);
        string[] lines = outcome.Output.Split('\n');
        Assert.StartsWith("site ", lines[0], StringComparison.Ordinal);
        Assert.Matches(@"^north +2 +50 ", lines[1]);
        Assert.Matches(@"^south +1 +3 ", lines[2]);
        Assert.All(lines, line => Assert.True(line.Length <= 80, line));
        Assert.Contains("3 decoded", outcome.Error, StringComparison.Ordinal);

        // Each table as many rows of each capture as the records have.
        foreach (string kind in Kinds)
        {
            foreach ((string capture, string demo) in ((string, string)[])[("north/monday.pcapng", "library"), ("north/tuesday.pcapng", "boathouse"), ("south.pcapng", "boathouse")])
                Assert.Equal(RecordsOf(demo).Count(record => record.GetProperty("record").GetString() == kind), Count(kind, capture));
        }
    }

    [Fact]
    public void BrokenCapture_IsToldAndDoesNotStopTheRest()
    {
        _folder.Write("a/empty.pcapng", []);
        _folder.Write("b/text.pcap", "not a capture"u8);
        _folder.Add("c/good.pcapng", "boathouse");
        _folder.Write("d/good.pcapng", File.ReadAllBytes(Repository.Demo("boathouse.pcapng")));
        _folder.Write("d/good.network.json", "{"u8);
        Outcome outcome = Run.Here("survey", _folder.Sites, "--to", _folder.Dataset).Ended(ExitCode.SomeFailed);
        foreach (string failed in (string[])["'a/empty.pcapng' failed", "'b/text.pcap' failed", "'d/good.pcapng' failed", "1 decoded", "3 failed"])
            Assert.Contains(failed, outcome.Error, StringComparison.Ordinal);
        Assert.Equal(["c/good.pcapng"], CapturesOf("press"));
    }

    [Fact]
    public void CutCapture_IsThereUpToItsDamage()
    {
        _folder.Write("cut.pcapng", File.ReadAllBytes(Repository.Demo("boathouse.pcapng")).AsSpan(0, 100_000));
        File.Copy(Repository.Demo("boathouse.network.json"), Path.Combine(_folder.Sites, "cut.network.json"));
        Outcome outcome = Run.Here("survey", _folder.Sites, "--to", _folder.Dataset).Ended(ExitCode.Damaged);
        Assert.Contains("is damaged at octet", outcome.Error, StringComparison.Ordinal);
        Assert.InRange(Count("frame", "cut.pcapng"), 100, 4520);
        Run.Here("survey", _folder.Sites, "--to", _folder.Dataset).Ended(ExitCode.Damaged);
    }

    [Fact]
    public void FolderWithoutCaptures_IsRefused()
    {
        _folder.Write("readme.txt", "no capture here"u8);
        Assert.Contains("no capture", Run.Here("survey", _folder.Sites, "--to", _folder.Dataset).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
        Assert.False(Directory.Exists(_folder.Dataset));
        Assert.Contains("does not exist", Run.Here("survey", _folder.Place("lost"), "--to", _folder.Dataset).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
    }

    [Fact]
    public void CaptureWithoutItsEnding_IsKnownByItsBeginning()
    {
        File.Copy(Repository.Demo("boathouse.pcapng"), Path.Combine(_folder.Sites, "recording-0001"));
        _folder.Write("notes.log", "btsnoop is what I used"u8);
        Assert.Equal("recording-0001\n", Run.Here("survey", _folder.Sites, "--list").Ended(ExitCode.Fine).Output);
    }

    [Fact]
    public void WhatIsDone_IsSkippedUntilSomethingChanges()
    {
        string capture = _folder.Add("one.pcapng", "boathouse");
        _folder.Add("two.pcapng", "boathouse");
        Survey(ExitCode.Fine, doneBefore: 0);
        Survey(ExitCode.Fine, doneBefore: 2);
        File.SetLastWriteTimeUtc(capture, DateTime.UtcNow.AddHours(-1));
        Survey(ExitCode.Fine, doneBefore: 1);
        File.AppendAllText(Path.ChangeExtension(capture, ".network.json"), "\n");
        Survey(ExitCode.Fine, doneBefore: 1);
        Survey(ExitCode.Fine, doneBefore: 0, "--redo");
        Survey(ExitCode.Fine, doneBefore: 2, "--only", "press");
    }

    [Fact]
    public void NarrowSurvey_IsWidenedWhenMoreIsAsked()
    {
        _folder.Add("one.pcapng", "boathouse");
        Survey(ExitCode.Fine, 0, "--only", "event");
        Assert.Equal(["_manifest", "_new", "capture", "event", "finding", "node", "press"], Directory.GetDirectories(_folder.Dataset).Select(path => Path.GetFileName(path)!).Order(StringComparer.Ordinal));
        Survey(ExitCode.Fine, 0);
        Assert.Equal(4521, Count("frame", "one.pcapng"));
        // Analysed again for less: no table of the earlier analysis stays beside the new ones.
        Survey(ExitCode.Fine, 0, "--only", "event", "--redo");
        Assert.Empty(Directory.GetFiles(Path.Combine(_folder.Dataset, "frame"), "*.parquet", SearchOption.AllDirectories));
    }

    [Fact]
    public void NothingDecoded_IsTriedAgain()
    {
        string capture = _folder.Add("one.pcapng", "boathouse", described: false);
        Assert.Contains("'one.pcapng': No network key", Survey(ExitCode.NothingDecoded, 0).Error, StringComparison.Ordinal);
        Survey(ExitCode.NothingDecoded, 0);
        Assert.Equal(0, Count("press", "one.pcapng"));
        Survey(ExitCode.Fine, 0, "--network", Repository.Demo("boathouse.network.json"));
        Assert.Equal(3, Count("press", "one.pcapng"));
        Assert.True(File.Exists(capture));
    }

    /// <summary>Killed at whatever moment: what has its stamp is whole, the rest is made anew, nothing stands twice.</summary>
    [Fact]
    public async Task KilledSurvey_GoesOnWhereItWas()
    {
        const int Captures = 6;
        for (int i = 1; i <= Captures; i++)
            _folder.Add(string.Create(CultureInfo.InvariantCulture, $"day-{i}.pcapng"), "library");
        using (Process process = Run.Start("survey", _folder.Sites, "--to", _folder.Dataset))
        {
            Task<string> error = process.StandardError.ReadToEndAsync();
            var clock = Stopwatch.StartNew();
            while (Stamps().Length == 0 && !process.HasExited && clock.Elapsed < TimeSpan.FromMinutes(1))
                await Task.Delay(5);
            process.Kill(entireProcessTree: true);
            await process.WaitForExitAsync();
            Assert.True(Stamps().Length > 0, await error);
        }
        Dictionary<string, DateTime> done = Stamps().ToDictionary(stamp => stamp, File.GetLastWriteTimeUtc);
        Survey(ExitCode.Fine, done.Count);
        Assert.Equal(Captures, Stamps().Length);
        Assert.All(done, stamp => Assert.Equal(stamp.Value, File.GetLastWriteTimeUtc(stamp.Key)));
        Assert.Equal(Captures * RecordsOf("library").Count(record => record.GetProperty("record").GetString() == "press"), Sql.Number("SELECT count(*) FROM read_parquet(?)", Files("press")));
        Assert.Empty(Directory.GetFileSystemEntries(Path.Combine(_folder.Dataset, "_new")));
    }

    [Fact]
    public void CaptureCutOffBetweenItsFiles_IsMadeAnew()
    {
        _folder.Add("one.pcapng", "boathouse");
        Survey(ExitCode.Fine, 0);
        // As after a power cut between two files: no stamp, one table gone, one of something else, remains aside.
        File.Delete(Assert.Single(Stamps()));
        File.Delete(Assert.Single(Directory.GetFiles(Path.Combine(_folder.Dataset, "node"), "*.parquet", SearchOption.AllDirectories)));
        File.WriteAllText(Assert.Single(Directory.GetFiles(Path.Combine(_folder.Dataset, "press"), "*.parquet", SearchOption.AllDirectories)), "half");
        Directory.CreateDirectory(Path.Combine(_folder.Dataset, "_new", "one.pcapng"));
        File.WriteAllText(Path.Combine(_folder.Dataset, "_new", "one.pcapng", "press.part"), "half");
        Survey(ExitCode.Fine, 0);
        Assert.Equal(3, Count("press", "one.pcapng"));
    }

    [Fact]
    public void StampThatCannotBeRead_IsNone()
    {
        _folder.Add("one.pcapng", "boathouse");
        Survey(ExitCode.Fine, 0);
        foreach (string rubbish in (string[])["", "[]", "{\"capture\":1}", "{\"capture\":\"one.pcapng\",\"size\":\"many\"}", "null"])
        {
            File.WriteAllText(Assert.Single(Stamps()), rubbish);
            Survey(ExitCode.Fine, 0);
        }
    }

    [Fact]
    public void Shards_AreTogetherTheWhole()
    {
        foreach (string name in (string[])["a", "b", "c", "d", "e"])
            _folder.Add(name + ".pcapng", "boathouse");
        foreach (string shard in (string[])["1/2", "2/2"])
            Assert.Empty(Survey(ExitCode.Fine, 0, "--shard", shard).Output);
        Assert.Equal(["a.pcapng", "b.pcapng", "c.pcapng", "d.pcapng", "e.pcapng"], CapturesOf("press"));
        Assert.Equal("b.pcapng\nd.pcapng\n", Run.Here("survey", _folder.Sites, "--list", "--shard", "2/2").Ended(ExitCode.Fine).Output);
        foreach (string wrong in (string[])["0/2", "3/2", "1", "1/2/3", "-1/2", "a/b", "", "1/0"])
            Run.Here("survey", _folder.Sites, "--to", _folder.Dataset, "--shard", wrong).Ended(ExitCode.Usage);
    }

    [Fact]
    public void OneCapture_AloneAsATaskOfItsOwn()
    {
        _folder.Add("a/evening.pcapng", "boathouse");
        _folder.Add("b/evening.pcapng", "boathouse");
        Assert.Empty(Survey(ExitCode.Fine, 0, "--only-capture", "b/evening.pcapng").Output);
        Assert.Equal(["b/evening.pcapng"], CapturesOf("press"));
        Assert.Contains("--list", Run.Here("survey", _folder.Sites, "--to", _folder.Dataset, "--only-capture", "c.pcapng").Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
    }

    [Fact]
    public void DatasetThatCannotBeWritten_EndsTheSurvey()
    {
        _folder.Add("one.pcapng", "boathouse");
        File.WriteAllText(_folder.Place("file"), "a file");
        Assert.Contains("cannot be written", Run.Here("survey", _folder.Sites, "--to", _folder.Place("file")).Ended(ExitCode.Unwritable).Error, StringComparison.Ordinal);
        Directory.CreateDirectory(_folder.Dataset);
        File.WriteAllText(Path.Combine(_folder.Dataset, "press"), "a file where the table should be");
        Run.Here("survey", _folder.Sites, "--to", _folder.Dataset).Ended(ExitCode.Unwritable);
    }

    [Fact]
    public void DatasetInTheFolder_IsNotTakenForASite()
    {
        _folder.Add("one.pcapng", "boathouse");
        string dataset = Path.Combine(_folder.Sites, "dataset");
        Run.Here("survey", _folder.Sites, "--to", dataset).Ended(ExitCode.Fine);
        _folder.Write("dataset/press/old.pcapng", []);
        Assert.Equal("one.pcapng\n", Run.Here("survey", _folder.Sites, "--to", dataset, "--list").Ended(ExitCode.Fine).Output);
    }

    [Theory]
    [InlineData("no place")]
    [InlineData("keys as a table", "--to", "dataset", "--only", "key")]
    [InlineData("unknown table", "--to", "dataset", "--only", "presses")]
    [InlineData("malformed key", "--to", "dataset", "--net-key", "0011")]
    public void CommandLineThatCannotBeUnderstood_IsRefused(string why, params string[] options)
    {
        _folder.Add("one.pcapng", "boathouse");
        Assert.True(Run.Here(["survey", _folder.Sites, .. options]).Ended(ExitCode.Usage).Error.Length > 0, why);
    }

    [Fact]
    public void Stopped_LeavesWhatIsDone()
    {
        _folder.Add("one.pcapng", "boathouse");
        using var stop = new CancellationTokenSource();
        stop.Cancel();
        Run.Here(["survey", _folder.Sites, "--to", _folder.Dataset], stop.Token).Ended(ExitCode.Interrupted);
        Assert.Empty(Stamps());
    }

    private Outcome Survey(int code, int doneBefore, params string[] options)
    {
        Outcome outcome = Run.Here(["survey", _folder.Sites, "--to", _folder.Dataset, .. options]).Ended(code);
        Assert.Contains($"{doneBefore} of them were done before", outcome.Error, StringComparison.Ordinal);
        return outcome;
    }

    private string[] Stamps() => Directory.Exists(Path.Combine(_folder.Dataset, "_manifest")) ? Directory.GetFiles(Path.Combine(_folder.Dataset, "_manifest"), "*.json") : [];

    private string Files(string table) => Path.Combine(_folder.Dataset, table, "capture=*", "*.parquet");

    private long Count(string table, string capture) =>
        Sql.Number("SELECT count(*) FROM read_parquet(?, hive_partitioning = true, hive_types = {'capture': VARCHAR}) WHERE capture = ?", Files(table), capture);

    private string[] CapturesOf(string table) =>
        [.. Sql.Rows("SELECT DISTINCT capture FROM read_parquet(?, hive_partitioning = true, hive_types = {'capture': VARCHAR}) ORDER BY 1", Files(table)).Select(row => row[0]!)];

    private static List<JsonElement> RecordsOf(string demo) =>
        [.. Run.Here("records", Repository.Demo(demo + ".pcapng"), "--network", Repository.Demo(demo + ".network.json")).Ended(ExitCode.Fine).Output
            .Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => JsonSerializer.Deserialize<JsonElement>(line))];
}
