using System.Globalization;
using System.Text.Json;
using MeshTrace.Analysis.Findings;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>The demo captures, analysed by the built program and checked against the exact truth that was composed with them.</summary>
public sealed class DemoTests
{
    private static readonly TimeSpan Near = TimeSpan.FromSeconds(3);

    private static readonly Lazy<List<JsonElement>> LibraryTruth = new(() => Truth("library"));
    private static readonly Lazy<Outcome> LibraryRecords = new(() => Program.Run("records", Repository.Demo("library.pcapng"), "--network", Repository.Demo("library.network.json")).Ended(ExitCode.Fine));
    private static readonly Lazy<Outcome> LibraryAccount = new(() => Program.Run("explain", Repository.Demo("library.pcapng"), "--network", Repository.Demo("library.network.json")).Ended(ExitCode.Fine));

    [Fact]
    public void Explain_NamesTheLostPresses()
    {
        string[] account = LibraryAccount.Value.Output.Split('\n');
        List<JsonElement> lost = [.. LibraryTruth.Value.Where(press => Asked(press) && Array(press, "answered").Count == 0 && Array(press, "acted").Count == 0)];
        Assert.True(lost.Count >= 5, $"the demo has {lost.Count} lost presses");
        foreach (JsonElement press in lost)
        {
            string line = LineOf(account, press);
            Assert.True(line.Contains(" NONE ", StringComparison.Ordinal) || line.Contains(" ? ", StringComparison.Ordinal), line);
        }
        // Those whose answers the receiver would have heard are called by their name, not left open.
        Assert.True(lost.Count(press => LineOf(account, press).Contains(" NONE ", StringComparison.Ordinal)) >= lost.Count / 2);
        Assert.Matches("answered\\s+by\\s+NOBODY", LibraryAccount.Value.Output);
    }

    /// <summary>The mistakes that the scenario puts into the library (its faults), each named with its cause, and nobody else accused.</summary>
    [Fact]
    public void Explain_NamesTheCauses_AndNoOther()
    {
        string account = string.Join(' ', LibraryAccount.Value.Output.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains("ttl-exhausted (17:45:30 on, 17:45:34 on and 19:03:30 off): entrance panel, stairs (0x0003) sends to Stairs (0xC002) with TTL 2", account, StringComparison.Ordinal);
        Assert.Contains("Set the publish TTL of entrance panel, stairs (0x0003), or the default TTL of its node, to 5", account, StringComparison.Ordinal);
        Assert.Contains("nobody-subscribed (18:02:44 on and 18:03:01 on)", account, StringComparison.Ordinal);
        Assert.Contains("appkey-not-bound (17:40:05 on and 19:36:45 off)", account, StringComparison.Ordinal);
        Assert.Contains("press-unanswered (18:47:02 off)", account, StringComparison.Ordinal);
        // Six lamps at once, by interference for four seconds: not the power of any of them.
        Assert.Contains("all of them answered presses before and after it, so power, distance and configuration are not the reason", account, StringComparison.Ordinal);
        Assert.Contains("some-lamps-silent (19:12:25 off, 19:12:40 on and 19:18:50 lightness 20000): reading lamp 5 (0x000D)", account, StringComparison.Ordinal);
        string[] known = ["ttl-exhausted", "nobody-subscribed", "appkey-not-bound", "press-unanswered", "some-lamps-silent", "answer-lost-on-way-back", "unknown-network"];
        foreach (FindingDefinition other in FindingCatalogue.All.Where(row => !known.Contains(row.Id)))
            Assert.DoesNotContain($", {other.Id}", account, StringComparison.Ordinal);
    }

    [Fact]
    public void Explain_TellsRepeatsAndWhoRelaysWhom()
    {
        string account = string.Join(' ', LibraryAccount.Value.Output.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains("staff desk panel 3 x 30 ms 3 x 30 ms", account, StringComparison.Ordinal);      // as the scenario sets it
        Assert.Contains("corridor relay 3 x 20 ms 3 x 20 ms 3 x 20 ms 3 x 20 ms", account, StringComparison.Ordinal);
        Assert.Contains("reading lamp 3 relays corridor relay", account, StringComparison.Ordinal);
        Assert.Contains("hopped from channel to channel", account, StringComparison.Ordinal);
    }

    [Fact]
    public void Explain_NeverCallsAWellAnsweredPressLost()
    {
        string[] account = LibraryAccount.Value.Output.Split('\n');
        foreach (JsonElement press in LibraryTruth.Value.Where(press => Asked(press) && Array(press, "answered").Count > 0))
        {
            if (account.Any(line => IsLineOf(line, press)))
                Assert.DoesNotContain(" NONE ", LineOf(account, press), StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Records_PressesAgreeWithTheTruth()
    {
        List<JsonElement> presses = LibraryRecords.Value.Records("press");
        int compared = 0;
        foreach (JsonElement truth in LibraryTruth.Value.Where(Asked))
        {
            JsonElement press = presses.Find(press => Text(press, "src") == Text(truth, "src") && press.GetProperty("tid").GetInt32() == truth.GetProperty("tid").GetInt32()
                && Text(press, "asks") == Text(truth, "asks") && (Time(press) - Time(truth)).Duration() < Near);
            if (press.ValueKind == JsonValueKind.Undefined)
                continue;       // the demo has a spell in which the receiver hears nothing
            compared++;
            string at = Text(truth, "time");
            Assert.Equal(Text(truth, "dst"), Text(press, "dst"));
            Assert.Equal(Strings(truth, "expected").Order(), Strings(press, "expected").Order());
            List<string> sent = [.. Array(truth, "answered").Select(answer => Text(answer, "element"))];
            Assert.True(Strings(press, "answered").All(sent.Contains), $"{at}: an answer that was never sent");
            switch (Text(press, "outcome"))
            {
                case "all":
                    Assert.Equal(Strings(truth, "expected").Order(), sent.Order());
                    break;
                case "some":
                    Assert.True(sent.Count < Strings(truth, "expected").Count || Strings(press, "answered").Count < sent.Count, at);
                    break;
                case "none":
                    Assert.True(sent.Count == 0, $"{at}: called none, though {sent.Count} answered");
                    break;
            }
        }
        Assert.True(compared >= presses.Count - 1 && compared >= 40, $"{compared} of {presses.Count} presses found in the truth");
    }

    [Theory]
    [InlineData("library"), InlineData("boathouse")]
    public void Records_SatisfyTheContract(string name) =>
        RecordsSchema.Check(Program.Run("records", Repository.Demo(name + ".pcapng"), "--network", Repository.Demo(name + ".network.json")).Ended(ExitCode.Fine).Records(),
            "contract", "frame", "flood", "message", "press", "beacon", "node");

    [Fact]
    public void Boathouse_TransfersAgreeWithTheTruth()
    {
        Outcome outcome = Program.Run("records", Repository.Demo("boathouse.pcapng"), "--network", Repository.Demo("boathouse.network.json"), "--only", "transfer").Ended(ExitCode.Fine);
        JsonElement truth = JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(Repository.Demo("boathouse.truth.json")));
        List<JsonElement> transfers = outcome.Records("transfer");
        Assert.NotEmpty(transfers);
        foreach (JsonElement transfer in transfers)
        {
            JsonElement real = Array(truth, "transfers").Find(real => Text(real, "src") == Text(transfer, "src") && real.GetProperty("seq").GetInt32() == transfer.GetProperty("seq").GetInt32());
            Assert.Equal(real.GetProperty("segments").GetInt32(), transfer.GetProperty("segments").GetInt32());
            if (Text(transfer, "outcome") == "acknowledged")
                Assert.Equal("acknowledged", Text(real, "outcome"));
        }
    }

    [Fact]
    public void Account_FitsTheWidthAndHoldsNoKey()
    {
        string account = LibraryAccount.Value.Output;
        Assert.All(account.Split('\n'), line => Assert.True(MeshTrace.Reports.Words.DisplayWidth.Of(line) <= 80, line));
        foreach (string key in DescribedKeys.Of(Repository.Demo("library.network.json")))
        {
            Assert.DoesNotContain(key, account, StringComparison.OrdinalIgnoreCase);
            Assert.DoesNotContain(key, LibraryRecords.Value.Output, StringComparison.OrdinalIgnoreCase);
        }
    }

    [Fact]
    public void Compose_GivesTheDemoOctetForOctet()
    {
        using var folder = new TemporaryFolder();
        foreach (string name in (string[])["library", "boathouse"])
        {
            Program.Run("compose", Repository.Demo(name + ".scenario.json"), "--to", folder.File("made")).Ended(ExitCode.Fine);
            foreach (string ending in (string[])[".pcapng", ".network.json", ".truth.json"])
                Assert.Equal(File.ReadAllBytes(Repository.Demo(name + ending)), File.ReadAllBytes(Path.Combine(folder.File("made"), name + ending)));
        }
    }

    private static List<JsonElement> Truth(string name) =>
        Array(JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(Repository.Demo(name + ".truth.json"))), "presses");

    /// <summary>Presses that became a message.</summary>
    private static bool Asked(JsonElement press) => press.GetProperty("notSent").ValueKind == JsonValueKind.Null && press.GetProperty("dst").ValueKind == JsonValueKind.String;

    private static string LineOf(string[] account, JsonElement press) =>
        account.FirstOrDefault(line => IsLineOf(line, press)) ?? throw new InvalidOperationException($"no line for the press at {Text(press, "time")}");

    /// <summary>The press's line begins with the second in which it was heard, and says what it asked.</summary>
    private static bool IsLineOf(string line, JsonElement press)
    {
        for (int second = 0; second <= 1; second++)
        {
            string clock = (Time(press) + TimeSpan.FromSeconds(second)).ToString("HH:mm:ss", CultureInfo.InvariantCulture);
            if (line.StartsWith("  " + clock, StringComparison.Ordinal) && line.Contains($" {Text(press, "asks")} ", StringComparison.Ordinal))
                return true;
        }
        return false;
    }

    private static List<JsonElement> Array(JsonElement element, string name) => [.. element.GetProperty(name).EnumerateArray()];

    private static List<string> Strings(JsonElement element, string name) => [.. Array(element, name).Select(item => item.GetString()!)];

    private static string Text(JsonElement element, string name) => element.GetProperty(name).GetString()!;

    private static DateTimeOffset Time(JsonElement element) => DateTimeOffset.Parse(Text(element, "time"), CultureInfo.InvariantCulture);
}
