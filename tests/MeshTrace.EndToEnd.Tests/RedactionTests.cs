using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary><c>--redact</c>: nothing real is in what is written, and the account stays the same.</summary>
public sealed class RedactionTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void NoKeyNameOrAddress_IsInRecordsTablesAndPage()
    {
        var quay = new Quay(_folder);
        string[] redacted = [quay.Capture, "--network", quay.Network, "--redact", "--provisioning-key", quay.PrivateKey];
        string records = Program.RunHere(["records", .. redacted]).Ended(ExitCode.Fine).Output;
        quay.IsNotIn(records);
        Assert.Contains("\"Node 1\"", records, StringComparison.Ordinal);
        Assert.Throws<Xunit.Sdk.DoesNotContainException>(() => quay.IsNotIn(Program.RunHere("records", quay.Capture, "--network", quay.Network).Output));

        Program.RunHere(["records", .. redacted, "--as", "csv", "--to", _folder.File("tables")]).Ended(ExitCode.Fine);
        foreach (string table in Directory.GetFiles(_folder.File("tables")))
            quay.IsNotIn(File.ReadAllText(table));

        string page = _folder.File("page.html");
        Program.RunHere(["report", .. redacted, "--to", page]).Ended(ExitCode.Fine);
        quay.IsNotIn(File.ReadAllText(page));
        Assert.Contains("Node 1", File.ReadAllText(page), StringComparison.Ordinal);
    }

    [Fact]
    public void NoKeyNameOrAddress_IsInAnExcerpt()
    {
        var quay = new Quay(_folder);
        string file = _folder.File("out.pcapng"), description = _folder.File("out.network.json");
        Outcome made = Program.RunHere("excerpt", quay.Capture, "--network", quay.Network, "--from", "08:00", "--redact", "--to", file).Ended(ExitCode.Fine);
        Assert.DoesNotContain("warning", made.Error, StringComparison.Ordinal);
        quay.IsNotIn(File.ReadAllText(description));
        quay.IsNotIn(File.ReadAllBytes(file));
        Assert.Throws<Xunit.Sdk.DoesNotContainException>(() => quay.IsNotIn(File.ReadAllBytes(quay.Capture)));

        Outcome real = Program.RunHere("records", file, "--network", quay.Network, "--provisioning-key", quay.PrivateKey);
        Assert.Equal(ExitCode.NothingDecoded, real.Code);
        Assert.Empty(real.Records("flood"));
        Assert.All(real.Records("beacon"), beacon => Assert.NotEqual("True", beacon.GetProperty("authenticated").ToString()));

        File.Move(file, _folder.File("shared.pcapng"));     // the records name the file
        Outcome fresh = Program.RunHere("records", _folder.File("shared.pcapng"), "--network", description).Ended(ExitCode.Fine);
        Assert.Empty(fresh.Error);      // the description is one that needs no repair
        quay.IsNotIn(fresh.Output);
        Assert.Equal(5, fresh.Records("press").Count);
        Assert.Single(fresh.Records("connection"));
    }

    [Theory]
    [InlineData("library"), InlineData("boathouse")]
    public void Presses_OfTheDemosAreToldTheSame(string name)
    {
        string capture = Repository.Demo(name + ".pcapng"), network = Repository.Demo(name + ".network.json"), file = _folder.File("out.pcapng");
        List<JsonElement> presses = Presses(capture, network);
        Outcome made = Program.RunHere("excerpt", capture, "--network", network, "--from", "00:00", "--redact", "--to", file).Ended(ExitCode.Fine);
        Assert.DoesNotContain("warning", made.Error, StringComparison.Ordinal);
        SamePresses(presses, Presses(file, _folder.File("out.network.json")));
        SamePresses(presses, Program.RunHere("records", capture, "--network", network, "--redact", "--only", "press").Ended(ExitCode.Fine).Records("press"));
    }

    [Theory]
    [InlineData("library", 9), InlineData("library", 27), InlineData("boathouse", 2)]
    public void Press_KeepsItsVerdictInItsRedactedExcerpt(string name, int number)
    {
        string capture = Repository.Demo(name + ".pcapng"), network = Repository.Demo(name + ".network.json"), file = _folder.File("out.pcapng");
        JsonElement press = Presses(capture, network)[number - 1];
        Outcome made = Program.RunHere("excerpt", capture, "--network", network, "--press", $"{number}", "--redact", "--to", file).Ended(ExitCode.Fine);
        Assert.DoesNotContain("warning", made.Error, StringComparison.Ordinal);
        SamePresses([press], [Presses(file, _folder.File("out.network.json")).Single(other => Text(other, "time") == Text(press, "time"))]);
    }

    [Fact]
    public void Findings_OfTheDemoAreTheSame()
    {
        string[] demo = [Repository.Demo("library.pcapng"), "--network", Repository.Demo("library.network.json"), "--only", "finding"];
        IEnumerable<string> Found(params string[] more) => Program.RunHere(["records", .. demo, .. more]).Ended(ExitCode.Fine).Records("finding")
            .Select(finding => $"{Text(finding, "id")} {Text(finding, "confidence")} {finding.GetProperty("presses").GetArrayLength()}").Order();
        Assert.Equal(Found(), Found("--redact"));
    }

    [Fact]
    public void Pseudonyms_AreTheSameInEveryResult()
    {
        string capture = Repository.Demo("library.pcapng"), network = Repository.Demo("library.network.json");
        string Nodes(params string[] arguments) => string.Join('\n', Program.RunHere(["records", .. arguments, "--only", "node"]).Ended(ExitCode.Fine).Records("node")
            .Select(node => $"{Text(node, "unicast")} {Text(node, "name")}").Order());
        string once = Nodes(capture, "--network", network, "--redact");
        Assert.Equal(once, Nodes(capture, "--network", network, "--redact"));
        Program.RunHere("excerpt", capture, "--network", network, "--from", "00:00", "--redact", "--to", _folder.File("out.pcapng")).Ended(ExitCode.Fine);
        Assert.Equal(once, Nodes(_folder.File("out.pcapng"), "--network", _folder.File("out.network.json")));
    }

    [Fact]
    public void WithoutKeys_DevicesAndNetworksHaveOtherAddresses()
    {
        var quay = new Quay(_folder);
        Outcome outcome = Program.RunHere("records", quay.Capture, "--redact");
        Assert.Equal(ExitCode.NothingDecoded, outcome.Code);
        quay.IsNotIn(outcome.Output);
        Assert.NotEmpty(outcome.Records("beacon"));
    }

    [Fact]
    public void WrongRequests_AreRefusedWithTheReason()
    {
        string capture = Repository.Demo("boathouse.pcapng");
        Refused("which standard input does not allow", "records", "-", "--redact");
        Refused("--redact hides the keys", "records", capture, "--redact", "--reveal-keys");
        Refused("--keep-payloads says what --redact is to keep", "report", capture, "--keep-payloads", "--to", _folder.File("page.html"));
        _folder.Write("out.network.json", "here already");
        Outcome outcome = Program.RunHere("excerpt", capture, "--from", "09:00", "--redact", "--to", _folder.File("out.pcapng"));
        Assert.Equal(ExitCode.Unwritable, outcome.Code);
        Assert.False(File.Exists(_folder.File("out.pcapng")));

        static void Refused(string says, params string[] arguments)
        {
            Outcome outcome = Program.RunHere(arguments);
            Assert.Equal(ExitCode.Usage, outcome.Code);
            Assert.Contains(says, outcome.Error, StringComparison.Ordinal);
        }
    }

    private static List<JsonElement> Presses(string capture, string network) =>
        Program.RunHere("records", capture, "--network", network, "--only", "press").Ended(ExitCode.Fine).Records("press");

    private static void SamePresses(List<JsonElement> presses, List<JsonElement> others)
    {
        Assert.NotEmpty(presses);
        Assert.Equal(presses.Count, others.Count);
        foreach ((JsonElement press, JsonElement other) in presses.Zip(others))
        {
            foreach (string member in (string[])["time", "tid", "asks", "outcome", "latencyMs", "lastTtl", "hopsSeen"])
                Assert.True(Text(press, member) == Text(other, member), $"{Text(press, "time")}, {member}: {Text(press, member)} became {Text(other, member)}");
            foreach (string member in (string[])["expected", "answered"])
                Assert.Equal(Count(press, member), Count(other, member));
        }
    }

    private static string Text(JsonElement record, string member) => record.GetProperty(member).GetRawText();

    private static int? Count(JsonElement record, string member) => record.GetProperty(member) is { ValueKind: JsonValueKind.Array } list ? list.GetArrayLength() : null;
}
