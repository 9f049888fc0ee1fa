using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>Excerpts of the demo captures: what they keep, and how wrong requests are refused.</summary>
public sealed class ExcerptTests
{
    [Theory]
    [InlineData("library"), InlineData("boathouse")]
    public void Press_KeepsItsVerdictInItsExcerpt(string name)
    {
        using var folder = new TemporaryFolder();
        List<JsonElement> presses = Presses(Repository.Demo(name + ".pcapng"), name);
        Assert.NotEmpty(presses);
        foreach (JsonElement press in presses)
        {
            string number = press.GetProperty("press").ToString(), file = folder.File(number + ".pcapng");
            Outcome made = Program.RunHere("excerpt", Repository.Demo(name + ".pcapng"), "--network", Network(name), "--press", number, "--to", file).Ended(ExitCode.Fine);
            Assert.DoesNotContain("warning", made.Error, StringComparison.Ordinal);
            JsonElement same = Presses(file, name).Single(other => Same(press, other, "time") && Same(press, other, "src") && Same(press, other, "dst") && Same(press, other, "tid"));
            foreach (string member in (string[])["asks", "expected", "outcome", "latencyMs", "lastTtl", "hopsSeen"])
                Assert.True(Same(press, same, member), $"press {number}, {member}: {press.GetProperty(member)} became {same.GetProperty(member)}");
            Assert.Equal(Elements(press), Elements(same));
        }
    }

    [Fact]
    public void Frames_AreWrittenAsTheyWere()
    {
        using var folder = new TemporaryFolder();
        string capture = Repository.Demo("boathouse.pcapng"), file = folder.File("part.pcapng");
        List<JsonElement> whole = Program.RunHere("records", capture, "--network", Network("boathouse"), "--only", "frame").Ended(ExitCode.Fine).Records("frame");
        string from = whole[whole.Count / 3].GetProperty("time").GetString()!, until = whole[whole.Count / 2].GetProperty("time").GetString()!;
        Program.RunHere("excerpt", capture, "--network", Network("boathouse"), "--from", from[..^3], "--until", until[..^3], "--to", file).Ended(ExitCode.Fine);

        Outcome part = Program.RunHere("records", file, "--network", Network("boathouse"), "--only", "frame").Ended(ExitCode.Fine);
        Dictionary<string, JsonElement> byTime = whole.ToDictionary(frame => frame.GetProperty("time").GetString()! + frame.GetProperty("receiver"));
        List<JsonElement> frames = part.Records("frame");
        Assert.InRange(frames.Count, (whole.Count / 2) - (whole.Count / 3), whole.Count - 1);
        foreach (JsonElement frame in frames)
        {
            JsonElement original = byTime[frame.GetProperty("time").GetString()! + frame.GetProperty("receiver")];
            foreach (string member in (string[])["receiver", "linkType", "channel", "rssi", "crc", "advertiser", "advertiserKind", "pduType", "carries", "problem"])
                Assert.True(Same(original, frame, member), member);
        }
        JsonElement Receivers(string of) => Program.RunHere("records", of, "--network", Network("boathouse"), "--only", "press").Records("contract")[0].GetProperty("receivers");
        Assert.Equal(Described(Receivers(capture)), Described(Receivers(file)));
    }

    [Fact]
    public void Node_IsCutOutWithThePressesThatConcernIt()
    {
        using var folder = new TemporaryFolder();
        string file = folder.File("node.pcapng");
        List<JsonElement> presses = Presses(Repository.Demo("library.pcapng"), "library");
        string node = presses[0].GetProperty("src").GetString()!;
        Program.RunHere("excerpt", Repository.Demo("library.pcapng"), "--network", Network("library"), "--node", node, "--to", file).Ended(ExitCode.Fine);
        List<JsonElement> own = [.. presses.Where(press => press.GetProperty("src").GetString() == node)], kept = Presses(file, "library");
        Assert.All(own, press => Assert.Contains(kept, other => Same(press, other, "time") && Same(press, other, "outcome")));
    }

    [Fact]
    public void WrongRequests_AreRefusedWithTheReason()
    {
        using var folder = new TemporaryFolder();
        string capture = Repository.Demo("boathouse.pcapng"), file = folder.File("no.pcapng");
        Refused(ExitCode.Usage, "there is no press 999", "--press", "999");
        Refused(ExitCode.Usage, "there is no press 0", "--press", "0");
        Refused(ExitCode.Usage, "no frame lies in this time", "--from", "2020-01-01T00:00Z", "--until", "2020-01-02T00:00Z");
        Refused(ExitCode.Usage, "no frame lies in this time", "--from", "2026-12-01T00:00Z");
        Refused(ExitCode.Usage, "no frame lies in this time", "--from", "18:30", "--until", "18:20");
        Refused(ExitCode.Usage, "know no node 'Cellar'", "--node", "Cellar");
        Refused(ExitCode.Usage, "is no time", "--from", "noon");
        Refused(ExitCode.Usage, "one press, one time or one node");
        Refused(ExitCode.Usage, "one press, one time or one node", "--press", "1", "--node", "0x0003");
        Refused(ExitCode.Unwritable, "cannot be written", "--press", "1", "--to", folder.File("missing/no.pcapng"));
        Assert.False(File.Exists(file));
        folder.Write("no.pcapng", "here already");
        Refused(ExitCode.Unwritable, "stands there already", "--press", "1");
        Assert.Equal("here already", File.ReadAllText(file));
        Assert.Equal(ExitCode.Usage, Program.RunHere("excerpt", capture, "--press", "1", "--to", capture, "--overwrite").Code);
        Assert.Equal(ExitCode.Usage, Program.RunHere("excerpt", "-", "--press", "1", "--to", file, "--overwrite").Code);

        void Refused(int code, string says, params string[] arguments)
        {
            string[] to = arguments.Contains("--to") ? [] : ["--to", file];
            Outcome outcome = Program.RunHere(["excerpt", capture, "--network", Network("boathouse"), .. arguments, .. to]);
            Assert.True(outcome.Code == code, $"{outcome.Code}: {outcome.Error}");
            Assert.Contains(says, outcome.Error, StringComparison.Ordinal);
        }
    }

    private static string Network(string name) => Repository.Demo(name + ".network.json");

    private static List<JsonElement> Presses(string capture, string name) =>
        Program.RunHere("records", capture, "--network", Network(name), "--only", "press").Ended(ExitCode.Fine).Records("press");

    private static bool Same(JsonElement one, JsonElement other, string member) => one.GetProperty(member).GetRawText() == other.GetProperty(member).GetRawText();

    private static IEnumerable<string> Elements(JsonElement press) => press.GetProperty("answered").EnumerateArray().Select(element => element.GetString()!).Distinct().Order();

    private static IEnumerable<string> Described(JsonElement receivers) =>
        receivers.EnumerateArray().Select(receiver => $"{receiver.GetProperty("receiver")} {receiver.GetProperty("interface")} {receiver.GetProperty("linkType")}");
}
