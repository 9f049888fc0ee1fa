using System.Globalization;

namespace MeshTrace.Synthesis.Tests.Scenarios;

/// <summary>Each fault does what its row says, over the chain of four nodes.</summary>
public class FaultTests
{
    [Theory]
    [InlineData("", "acted")]
    [InlineData("{\"fault\": \"nobody-subscribed\", \"node\": \"lamp\", \"group\": \"Jetty\"}", "not-subscribed")]
    [InlineData("{\"fault\": \"nobody-subscribed\", \"node\": \"lamp\"}", "not-subscribed")]
    [InlineData("{\"fault\": \"appkey-not-bound\", \"node\": \"lamp\", \"appKey\": 0}", "appkey-not-bound")]
    [InlineData("{\"fault\": \"appkey-missing\", \"node\": \"lamp\", \"appKey\": 0}", "appkey-unknown")]
    [InlineData("{\"fault\": \"ttl-exhausted\", \"node\": \"panel\", \"ttl\": 2}", "ttl-too-low")]
    [InlineData("{\"fault\": \"relay-not-forwarding\", \"node\": \"relay b\"}", "relay-off")]
    [InlineData("{\"fault\": \"lamp-powered-off\", \"node\": \"lamp\", \"fromS\": 0, \"untilS\": 20}", "powered-off")]
    [InlineData("{\"fault\": \"lamp-powered-off\", \"node\": \"lamp\", \"fromS\": 10, \"untilS\": 20}", "acted")]
    [InlineData("{\"fault\": \"press-not-on-air\", \"node\": \"panel\"}", "not-sent (powered-off)")]
    [InlineData("{\"fault\": \"panel-not-publishing\", \"node\": \"panel\"}", "not-sent (panel-not-publishing)")]
    [InlineData("{\"fault\": \"interference\", \"place\": [3000, 2], \"duty\": 1, \"powerDbm\": 20}", "collision")]
    [InlineData("{\"fault\": \"iv-index-apart\", \"node\": \"lamp\", \"behind\": 3}", "iv-index-apart")]
    [InlineData("{\"fault\": \"receiver-deaf\", \"receiver\": \"receiver\"}", "acted")]
    [InlineData("{\"fault\": \"sent-once-only\"}", "acted")]
    [InlineData("{\"fault\": \"repeats-too-close\", \"node\": \"panel\"}", "acted")]
    [InlineData("{\"fault\": \"relay-crowding\", \"transmissions\": 4}", "acted")]
    [InlineData("{\"fault\": \"unknown-network\", \"place\": [0, 5]}", "acted")]
    [InlineData("{\"fault\": \"answer-lost-on-way-back\", \"node\": \"lamp\"}", "acted")]
    public void FirstPress_MeetsItsFate(string fault, string cause) => Assert.Equal(cause, Composed.Of(Chain.WithFault(fault)).CauseOf(0));

    [Fact]
    public void NoRelayOnPath_TurnsEveryRelayOff()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"no-relay-on-path\"}"));
        Assert.All(composed.Floods, flood =>
            Assert.All(flood.GetProperty("events").EnumerateArray(), sent => Assert.Equal("panel", sent.GetProperty("by").GetString())));
        Assert.All(composed.Description.GetProperty("nodes").EnumerateArray(), node =>
            Assert.NotEqual(1, node.GetProperty("features").GetProperty("relay").GetInt32()));
        Assert.Equal("out-of-range", composed.CauseOf(0));
    }

    [Fact]
    public void AnswerLost_MakesThePanelRepeat()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"answer-lost-on-way-back\", \"node\": \"lamp\"}"));
        Assert.Equal(3, composed.Presses.First().GetProperty("floods").GetArrayLength());
        Assert.Single(composed.Presses.First().GetProperty("acted").EnumerateArray());   // the same transaction is carried out once
        Assert.Equal(3, composed.Frames.Where(frame => frame.Src.Value == 0x0030).Select(frame => frame.Seq).Distinct().Count());
    }

    private static readonly (string, string) SecondPress =
        ("\"schedule\": [", "\"schedule\": [{\"atS\": 4, \"press\": \"panel\", \"asks\": \"off\", \"tries\": 1, \"acknowledged\": true},");

    [Fact]
    public void SequenceWentBackwards_IsReplayForTheLamp()
    {
        var composed =
            Composed.Of(Chain.WithFault("{\"fault\": \"sequence-went-backwards\", \"node\": \"panel\", \"atS\": 3, \"sequence\": 20}",
                SecondPress));
        Assert.Equal(["acted", "replay"], new[] { composed.CauseOf(0), composed.CauseOf(1) });
        Assert.Contains(composed.Frames, frame => frame.Src.Value == 1 && frame.Seq == 20);
    }

    [Fact]
    public void TransactionNumberReused_IsTheSameTransactionForTheLamp()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"transaction-number-reused\", \"node\": \"panel\"}", SecondPress));
        Assert.Equal(["acted", "same-transaction"], new[] { composed.CauseOf(0), composed.CauseOf(1) });
    }

    [Fact]
    public void ReplayListFull_IgnoresTheSourceThatCameLast()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"replay-list-full\", \"node\": \"lamp\", \"size\": 1}",
            ("\"schedule\": [", "\"schedule\": [{\"atS\": 0.5, \"transfer\": \"relay a\", \"to\": \"Jetty\", \"octets\": 8},")));
        Assert.Equal("replay-list-full", composed.CauseOf(0));
    }

    [Fact]
    public void RelayedAgain_HappensWithASmallCache()
    {
        // Two PDUs at once alternate in a cache of one entry.
        (string, string) two = ("\"schedule\": [",
            "\"schedule\": [{\"atS\": 1.004, \"press\": \"panel\", \"asks\": \"lightness 900\", \"to\": \"Jetty\", \"appKey\": 0},");
        static int Relayed(string json) => Composed.Of(json).Floods.Where(flood => flood.GetProperty("src").GetString() == "0x0001")
            .Sum(flood => flood.GetProperty("events").EnumerateArray().Count(sent => sent.GetProperty("by").GetString() == "relay a"));
        Assert.True(Relayed(Chain.WithFault("{\"fault\": \"relayed-again\", \"node\": \"relay a\", \"cacheSize\": 1}",
            two)) > Relayed(Chain.With(two)));
    }

    [Fact]
    public void AddressClaimedTwice_StandsInTheDescription()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"address-claimed-twice\", \"node\": \"relay b\", \"with\": \"panel\"}"));
        Assert.Equal(2, composed.Description.GetProperty("nodes").EnumerateArray().Count(node =>
            node.GetProperty("unicastAddress").GetString() == "0001"));
    }

    [Fact]
    public void AcknowledgmentNotArriving_LetsTheSenderRepeat()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"acknowledgment-not-arriving\", \"node\": \"lamp\"}",
            ("\"schedule\": [", "\"schedule\": [{\"atS\": 6, \"transfer\": \"panel\", \"to\": \"0030\", \"octets\": 40},")));
        var transfer = composed.Transfers.First();
        Assert.Equal("given-up", transfer.GetProperty("outcome").GetString());
        Assert.NotEmpty(transfer.GetProperty("acks").EnumerateArray());
        Assert.NotEmpty(transfer.GetProperty("arrived").EnumerateArray());
    }

    [Theory]
    [InlineData("true", 0)]
    [InlineData("false", 1)]
    public void Described_DecidesWhatTheDescriptionExpects(string described, int expected)
    {
        var composed =
            Composed.Of(Chain.WithFault($"{{\"fault\": \"nobody-subscribed\", \"node\": \"lamp\", \"described\": {described}}}"));
        Assert.Equal(expected, composed.Presses.First().GetProperty("expected").GetArrayLength());
        Assert.Equal(1, composed.Presses.First().GetProperty("meant").GetArrayLength());
    }

    [Fact]
    public void EveryFault_IsInTheDocumentation()
    {
        string page = File.ReadAllText(Path.Combine(Repository.Root, "docs", "scenarios.md"));
        Assert.All(Composer.Faults, fault =>
            Assert.Contains(string.Create(CultureInfo.InvariantCulture,
                $"| `{fault.Name}` | {fault.Says} | {(fault.Described ? "yes" : "no")} |"), page, StringComparison.Ordinal));
        Assert.Equal(Composer.Faults.Count,
            page.Split('\n').SkipWhile(line => line != "## Faults").TakeWhile(line => line != "## Description")
            .Count(line => line.StartsWith("| `", StringComparison.Ordinal)));
    }
}
