using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests.Page;

/// <summary><c>report</c> on the command line: where the page goes, what is refused, and what it never holds.</summary>
public sealed class ReportCommandTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private readonly string _capture;

    public ReportCommandTests() => _capture = _folder.Write("evening.pcap", Boathouse.Capture());

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void File_AndStandardOutput_GetTheSamePage()
    {
        string page = _folder.File("evening.html");
        Assert.Empty(Program.RunHere(["report", _capture, "--to", page, .. Boathouse.Keys]).Ended(ExitCode.Fine).Output);
        Assert.Equal(File.ReadAllText(page), Program.Run(["report", _capture, "--to", "-", .. Boathouse.Keys]).Ended(ExitCode.Fine).Output);
        Assert.Equal(["evening.html", "evening.pcap"], Directory.GetFiles(Path.GetDirectoryName(page)!).Select(Path.GetFileName).Order());
    }

    [Fact]
    public void FileThatStandsThere_StaysUnlessAskedFor()
    {
        string page = _folder.Write("evening.html", "mine");
        Assert.Contains("--overwrite", Program.RunHere(["report", _capture, "--to", page, .. Boathouse.Keys]).Ended(ExitCode.Unwritable).Error, StringComparison.Ordinal);
        Assert.Equal("mine", File.ReadAllText(page));
        Program.RunHere(["report", _capture, "--to", page, "--overwrite", .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.StartsWith("<!DOCTYPE html>", File.ReadAllText(page), StringComparison.Ordinal);
    }

    [Fact]
    public void Inputs_AreNeverOverwritten()
    {
        string notes = _folder.Write("notes.csv", "time,node,words\n");
        foreach (string input in (string[])[_capture, notes])
        {
            byte[] before = File.ReadAllBytes(input);
            Program.RunHere(["report", _capture, "--to", input, "--overwrite", "--notes", notes, .. Boathouse.Keys]).Ended(ExitCode.Usage);
            Assert.Equal(before, File.ReadAllBytes(input));
        }
    }

    [Fact]
    public void Place_ThatCannotBeWritten_IsTold()
    {
        Program.RunHere(["report", _capture, "--to", _folder.File("")]).Ended(ExitCode.Unwritable);
        Program.RunHere(["report", _capture, "--to", _folder.File("no/such/folder.html")]).Ended(ExitCode.Unwritable);
        Program.RunHere(["report", _capture, "--to", ""]).Ended(ExitCode.Usage);
        Program.RunHere(["report", _capture]).Ended(ExitCode.Usage);
    }

    [Fact]
    public void DamagedAndKeyless_GiveAPageWithTheirExitCode()
    {
        byte[] whole = Boathouse.Capture();
        string cut = _folder.Write("cut.pcap", whole.AsSpan(0, whole.Length - 5)), page = _folder.File("cut.html");
        Program.RunHere(["report", cut, "--to", page, .. Boathouse.Keys]).Ended(ExitCode.Damaged);
        Assert.Contains("cut.pcap is damaged at octet", File.ReadAllText(page), StringComparison.Ordinal);
        Outcome keyless = Program.RunHere(["report", _capture, "--to", "-"]).Ended(ExitCode.NothingDecoded);
        Assert.Contains("No network key was given", keyless.Output, StringComparison.Ordinal);
        Assert.EndsWith("</html>\n", keyless.Output, StringComparison.Ordinal);
    }

    [Theory, InlineData("library"), InlineData("boathouse")]
    public void Keys_AreNotOnThePage(string demo)
    {
        string page = Program.RunHere("report", Repository.Demo(demo + ".pcapng"), "--network", Repository.Demo(demo + ".network.json"), "--to", "-").Ended(ExitCode.Fine).Output;
        string[] keys = [.. DescribedKeys.Of(Repository.Demo(demo + ".network.json"))];
        Assert.NotEmpty(keys);
        Assert.All(keys, key => Assert.DoesNotContain(key, page, StringComparison.OrdinalIgnoreCase));
        Assert.All(keys, key => Assert.DoesNotContain(Convert.ToBase64String(Convert.FromHexString(key)), page, StringComparison.Ordinal));
    }
}
