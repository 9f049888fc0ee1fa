using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Friendship;

/// <summary>Friends that are lost, not found or too small, and heartbeats that stop: simulated, with healthy twins and half heard.</summary>
public sealed class FriendshipFindingTests
{
    private static readonly string[] All = ["friend-lost", "friend-offers-none", "friend-queue-overflow", "heartbeat-silent"];
    private const string Lpn = """, "lowPower": true, "friendship": {"pollS": 10, "pollTimeoutS": 60}""", Friend = """, "friend": true""";

    private static readonly string Presses = string.Join(", ", Enumerable.Range(0, 20).Select(press =>
        FormattableString.Invariant($$"""{"atS": {{15 + (press * 4.5)}}, "press": "panel", "asks": "{{(press % 2 == 0 ? "on" : "off")}}"}""")));

    private static ReadingRoom Room(string faults = "", double heard = 1, int seed = 5) =>
        new() { Relay = Friend, Lamp = Lpn, Schedule = Presses, LastsS = 110, Faults = faults, HeardShare = heard, Seed = seed };

    public static TheoryData<string, string, string> Faults => new()
    {
        { "friend-lost", """{"fault": "friend-lost", "node": "relay", "fromS": 30, "untilS": 70}""", "relay" },
        { "friend-offers-none", """{"fault": "friend-offers-none"}""", "lamp" },
        { "friend-queue-overflow", """{"fault": "friend-queue-overflow", "node": "relay", "size": 2}""", "relay" },
    };

    [Theory]
    [MemberData(nameof(Faults))]
    public void TheFault_IsTold_OfItsNode_AndNothingElseIs(string id, string fault, string node)
    {
        ComposedNetwork network = ComposedNetwork.Of(Room(fault).ToScenario());
        Finding finding = Assert.Single(network.History.Of(id));
        Assert.Equal((node, Confidence.Likely), (network.NameOf(finding.Node!.Value), finding.Confidence));
        Assert.All(All.Where(other => other != id), other => Assert.Empty(network.History.Of(other)));
    }

    [Theory]
    [MemberData(nameof(Faults))]
    public void TheFault_HalfHeard_IsNotMistaken(string id, string fault, string node)
    {
        foreach (int seed in new[] { 5, 6, 7, 8 })
        {
            ComposedNetwork network = ComposedNetwork.Of(Room(fault, seed % 2 == 0 ? 0.6 : 0.4, seed).ToScenario());
            Assert.All(network.History.Of(id), finding => Assert.Equal(node, network.NameOf(finding.Node!.Value)));
            Assert.All(All.Where(other => other != id), other => Assert.Empty(network.History.Of(other)));
        }
    }

    /// <summary>Few polls open and few requests are heard, but those tell how many there were, and which Friend was before (Mesh Protocol 1.1 §3.6.5.3).</summary>
    [Theory]
    [InlineData("friend-lost", """{"fault": "friend-lost", "node": "relay", "fromS": 30, "untilS": 100}""", 5)]
    [InlineData("friend-lost", """{"fault": "friend-lost", "node": "relay", "fromS": 30, "untilS": 100}""", 6)]
    [InlineData("friend-offers-none", """{"fault": "friend-offers-none"}""", 5)]
    [InlineData("friend-offers-none", """{"fault": "friend-offers-none"}""", 6)]
    public void RequestsHalfHeard_TellOfAllRequests(string id, string fault, int seed)
    {
        CaptureHistory history = ComposedNetwork.Of(Room(fault, 0.25, seed).ToScenario()).History;
        Assert.Single(history.Of(id));
        Assert.All(All.Where(other => other != id), other => Assert.Empty(history.Of(other)));
    }

    [Theory]
    [InlineData(1.0, 5)]
    [InlineData(0.7, 6)]
    [InlineData(0.4, 7)]
    [InlineData(0.4, 8)]
    [InlineData(0.2, 9)]
    [InlineData(0.2, 10)]
    public void AFriendshipThatLasts_GivesNoFinding(double heard, int seed)
    {
        CaptureHistory history = ComposedNetwork.Of(Room("", heard, seed).ToScenario()).History;
        Assert.All(All, id => Assert.Empty(history.Of(id)));
    }

    /// <summary>FSN tells whether an answer came: without a repeated one, a new request is no loss.</summary>
    [Fact]
    public void ALowPowerNodeThatWasStartedAnew_HasNotLostItsFriend()
    {
        CaptureHistory history = ComposedNetwork.Of(Room("""{"fault": "lamp-powered-off", "node": "lamp", "fromS": 40, "untilS": 50}""").ToScenario()).History;
        Assert.All(All, id => Assert.Empty(history.Of(id)));
    }

    private const string Beating = """, "heartbeat": {"to": "tablet", "periodS": 16, "ttl": 5}""";

    private static ReadingRoom Hearts(string faults, double heard = 1, int seed = 5) =>
        new() { Relay = Beating, OtherLamp = Beating, LastsS = 600, Schedule = Presses, Faults = faults, HeardShare = heard, Seed = seed };

    [Theory]
    [InlineData(200, 400, Confidence.Likely)]       // it comes back: the number has not run out
    [InlineData(300, 600, Confidence.Possible)]
    public void HeartbeatsThatStop_AreTold(int fromS, int untilS, Confidence confidence)
    {
        ComposedNetwork network = ComposedNetwork.Of(Hearts($$"""{"fault": "heartbeat-silent", "node": "relay", "fromS": {{fromS}}, "untilS": {{untilS}} }""").ToScenario());
        Finding finding = Assert.Single(network.History.Of("heartbeat-silent"));
        Assert.Equal(("relay", confidence), (network.NameOf(finding.Node!.Value), finding.Confidence));
        Assert.Contains("every 16 s", finding.Says);
    }

    [Theory]
    [InlineData("", 1.0, 5)]
    [InlineData("", 0.6, 6)]
    [InlineData("", 0.3, 7)]
    [InlineData("", 0.15, 8)]
    [InlineData("", 0.08, 10)]
    [InlineData("", 0.08, 11)]
    [InlineData("""{"fault": "receiver-deaf", "receiver": "desk", "fromS": 200, "untilS": 400}""", 1.0, 9)]
    public void HeartbeatsThatAreMissedOnly_AreNotMissing(string fault, double heard, int seed) =>
        Assert.Empty(ComposedNetwork.Of(Hearts(fault, heard, seed).ToScenario()).History.Of("heartbeat-silent"));

    /// <summary>Config Heartbeat Publication Status: destination 0x0001, CountLog, PeriodLog 4 = 8 s, TTL 5 (Mesh Protocol 1.1 §4.3.2.63, little-endian).</summary>
    [Theory]
    [InlineData("FF", true)]        // without end
    [InlineData("02", false)]       // two heartbeats: they were sent
    public void AFiniteNumberOfHeartbeats_RunsOut(string countLog, bool told)
    {
        var talk = new ConfigTalk();
        talk.Ask(0, $"80390100{countLog}04050000" + "0000").Answer(100, $"06000100{countLog}04050000" + "0000");
        byte[] heartbeat = [0x0A, 0x05, 0x00, 0x00];
        for (uint beat = 0; beat < 2; beat++)
            talk.Air.Network(8_000 * (beat + 1), true, 5, 2100 + (beat * 40), ConfigTalk.Node, ConfigTalk.Client, heartbeat);
        for (uint at = 0; at < 78; at++)
            talk.Air.Access(17_000 + (at * 1000), 5, 2141 + at, ConfigTalk.Node, 0xC001, "82040" + (at % 2));
        CaptureHistory history = talk.Analyse();
        Assert.Equal(told ? 1 : 0, history.Of("heartbeat-silent").Count);
    }
}
