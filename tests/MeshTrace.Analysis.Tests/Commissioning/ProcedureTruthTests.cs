using System.Text.Json;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.Tests.Commissioning;

/// <summary>Procedures of a simulated network, seen by the analysis when they really happened.</summary>
public sealed class ProcedureTruthTests
{
    private const long NsAnHour = 3_600_000_000_000;
    private const string Beacons = """, "beacon": true""", Presses = """
        {"atS": 3, "press": "panel", "asks": "on", "acknowledged": true}, {"atS": 50, "press": "panel", "asks": "off", "acknowledged": true},
        {"atS": 95, "press": "panel", "asks": "on", "acknowledged": true}, {"atS": 170, "press": "panel", "asks": "off", "acknowledged": true}
        """;

    private static readonly ReadingRoom IvUpdate = new()
    {
        LastsS = 190, Relay = Beacons, OtherLamp = Beacons,
        Schedule = """{"atS": 20, "ivUpdate": "relay", "lastsS": 100}, """ + Presses,
    };

    [Fact]
    public void AnIvUpdate_BeginsAndEndsWhenItDid_AndNoPressIsLost()
    {
        ComposedNetwork network = ComposedNetwork.Of(IvUpdate.ToScenario());
        Assert.All(network.Truth.GetProperty("presses").EnumerateArray(), press => Assert.Equal("all", press.GetProperty("fate").GetString()));
        LifecycleEvent[] told = [.. network.History.Lifecycle.Where(one => one.Kind is LifecycleKind.IvUpdateInProgress or LifecycleKind.IvUpdateFinished or LifecycleKind.IvIndexChanged)];
        Assert.Equal([LifecycleKind.IvUpdateInProgress, LifecycleKind.IvUpdateFinished], told.Select(one => one.Kind));
        Follows(told[0].TimeNs, First(network, "iv-update-in-progress"));
        Follows(told[1].TimeNs, First(network, "iv-update-normal"));
        // All five nodes went through both steps.
        Assert.Equal((5, 5), (Events(network, "iv-update-in-progress").Count(), Events(network, "iv-update-normal").Count()));
        AllOpened(network);
    }

    /// <summary>In progress: the index before the one told; after it the new one, and SEQ from 0 (Mesh Protocol 1.1 §3.11.5).</summary>
    [Fact]
    public void TheIndexSentWith_StepsAtTheEndOfTheUpdate_AndSeqStartsAgain()
    {
        CaptureHistory history = ComposedNetwork.Of(IvUpdate.ToScenario()).History;
        (double AtS, uint IvIndex, uint Seq)[] panel = [.. Enumerable.Range(0, history.Floods.Count).Select(row => history.Floods[row])
            .Where(flood => flood.Src.Value == 0x0010).Select(flood => ((flood.FirstTimeNs - history.Floods[0].FirstTimeNs) / 1e9, flood.IvIndex, flood.Seq))];
        Assert.All(panel.Where(one => one.AtS < 110), one => Assert.Equal(4u, one.IvIndex));
        Assert.All(panel.Where(one => one.AtS > 150), one => Assert.Equal((5u, 0u), (one.IvIndex, one.Seq & ~7u)));
        Assert.Contains(panel, one => one.IvIndex == 5);
    }

    /// <summary>Days of a network whose receiver records the beginning and the end only: the event times still tell 100 h.</summary>
    [Fact]
    public void AnIvUpdateOfHundredHours_IsCheapToCompose()
    {
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom
        {
            LastsS = 361_000, Truth = "presses", Relay = Beacons,
            Schedule = """{"atS": 100, "ivUpdate": "relay", "lastsS": 360000}""",
            Receiver = """, "deaf": [{"fromS": 400, "untilS": 360000}]""",
        }.ToScenario());
        LifecycleEvent[] told = [.. network.History.Lifecycle];
        Assert.Equal([LifecycleKind.IvUpdateInProgress, LifecycleKind.IvUpdateFinished], told.Select(one => one.Kind));
        Assert.InRange(told[1].TimeNs - told[0].TimeNs, 100 * NsAnHour - 30_000_000_000, 100 * NsAnHour + 30_000_000_000);
    }

    [Fact]
    public void ANodeThatSendsWithTheNewIndexTooEarly_DoesSo_AndItsTwinDoesNot()
    {
        ComposedNetwork wrong = ComposedNetwork.Of((IvUpdate with { Faults = """{"fault": "iv-update-out-of-time", "node": "panel"}""" }).ToScenario());
        Assert.Contains(Enumerable.Range(0, wrong.History.Floods.Count).Select(row => wrong.History.Floods[row]),
            flood => flood.Src.Value == 0x0010 && flood.IvIndex == 5 && flood.FirstTimeNs < First(wrong, "iv-update-normal"));
        ComposedNetwork endless = ComposedNetwork.Of((IvUpdate with { Faults = """{"fault": "iv-update-out-of-time"}""" }).ToScenario());
        Assert.Empty(Events(endless, "iv-update-normal"));
    }

    /// <summary>IV index recovery (Mesh Protocol 1.1 §3.11.6): one beacon brings a node up to date; a node that heeds none stays apart.</summary>
    [Theory]
    [InlineData("", true)]
    [InlineData("""{"fault": "iv-index-apart", "node": "panel", "behind": 3}""", false)]
    public void ANodeThatIsBehind_RecoversByABeacon(string fault, bool recovers)
    {
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom { Relay = Beacons, Panel = """, "ivIndex": 1""", Schedule = Presses, LastsS = 180, Faults = fault }.ToScenario());
        Assert.Equal(recovers ? 1 : 0, Events(network, "iv-update-normal").Count());
        Assert.Equal(recovers ? "all" : "none", network.Truth.GetProperty("presses")[1].GetProperty("fate").GetString());
    }

    [Fact]
    public void PrivateBeacons_AreOpened_AndToldAsSuch()
    {
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom { Relay = """, "privateBeacon": true, "privateBeaconRandomS": 20""" }.ToScenario());
        LifecycleEvent only = Assert.Single(network.History.Lifecycle);
        Assert.Equal(LifecycleKind.PrivateBeacons, only.Kind);
        var beacon = Assert.Single(network.History.Beacons);
        Assert.Equal((true, 4u, false, false), (beacon.Authenticated, beacon.IvIndex!.Value, beacon.IvUpdate!.Value, beacon.KeyRefresh!.Value));
    }

    private static readonly ReadingRoom KeyRefresh = new()
    {
        LastsS = 190, Relay = Beacons, Tablet = Beacons,
        Schedule = """{"atS": 10, "keyRefresh": 0, "by": "tablet", "phase2AfterS": 20, "phase3AfterS": 40}, """ + Presses,
    };

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void AKeyRefresh_IsFollowedWithKeysLearntFromItsMessages(bool byBeacon)
    {
        ReadingRoom room = byBeacon ? KeyRefresh with { Schedule = KeyRefresh.Schedule.Replace("\"phase3AfterS\"", "\"byBeacon\": true, \"phase3AfterS\"", StringComparison.Ordinal) } : KeyRefresh;
        ComposedNetwork network = ComposedNetwork.Of(room.ToScenario());
        Assert.All(network.Truth.GetProperty("presses").EnumerateArray(), press => Assert.Equal("all", press.GetProperty("fate").GetString()));
        Assert.Equal(15, Events(network, "key-refresh-phase").Count());   // five nodes, phases 1, 2 and 3
        Assert.Equal(2, network.History.Keys.Subnets.Count);
        AllOpened(network);
        LifecycleEvent begins = network.History.Lifecycle.First(one => one.Kind == LifecycleKind.KeyRefreshPhase);
        LifecycleEvent ends = network.History.Lifecycle.Last(one => one.Kind == LifecycleKind.KeyRefreshPhase);
        Follows(begins.TimeNs, Events(network, "key-refresh-phase").First(one => one.Phase == 2).TimeNs);
        Assert.True(ends.TimeNs >= Events(network, "key-refresh-phase").First(one => one.Phase == 3).TimeNs, ends.Says);
    }

    [Fact]
    public void ANodeThatStaysBehindInAKeyRefresh_StillSendsWithTheOldKey()
    {
        ComposedNetwork network = ComposedNetwork.Of((KeyRefresh with
        {
            Panel = """, "heartbeat": {"to": "States", "periodS": 5}""",
            Faults = """{"fault": "key-refresh-stuck", "node": "panel"}""",
        }).ToScenario());
        long over = Events(network, "key-refresh-phase").First(one => one.Phase == 3).TimeNs;
        CaptureHistory history = network.History;
        int[] late = [.. Enumerable.Range(0, history.Floods.Count).Where(row => history.Floods[row].FirstTimeNs > over + 20_000_000_000)];
        Assert.NotEmpty(late);
        Assert.All(late, row => Assert.Equal(history.Floods[row].Src.Value == 0x0010, history.Floods[row].Subnet == 0));
        Assert.Contains(late, row => history.Floods[row].Src.Value == 0x0010);
        Assert.Equal("none", network.Truth.GetProperty("presses").EnumerateArray().Last().GetProperty("fate").GetString());
    }

    [Fact]
    public void ADeviceThatJoinsAfterAKeyRefresh_GetsTheNewKeys()
    {
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom
        {
            LastsS = 110, Tablet = Beacons, Relay = Beacons,
            Schedule = """
                {"atS": 5, "keyRefresh": 0, "by": "tablet", "nodes": ["panel", "relay", "other lamp"], "phase2AfterS": 5, "phase3AfterS": 10}, {"atS": 60, "provision": "lamp", "by": "tablet"},
                {"atS": 75, "configure": "lamp", "by": "tablet"}, {"atS": 100, "press": "panel", "asks": "on", "acknowledged": true}
                """,
        }.ToScenario());
        Assert.Equal("all", network.Truth.GetProperty("presses")[0].GetProperty("fate").GetString());
        AllOpened(network);
    }

    [Fact]
    public void ANodeThatIsReset_LeavesTheNetwork_AndShowsItselfUnprovisioned()
    {
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom
        {
            Schedule = """
                {"atS": 2, "press": "panel", "asks": "on", "acknowledged": true}, {"atS": 20, "configure": "lamp", "by": "tablet", "steps": ["reset"]},
                {"atS": 40, "press": "panel", "asks": "off", "acknowledged": true}
                """,
        }.ToScenario());
        Assert.Equal(["all", "some"], network.Truth.GetProperty("presses").EnumerateArray().Select(press => press.GetProperty("fate").GetString()));
        LifecycleEvent reset = network.History.Lifecycle.First(one => one.Kind == LifecycleKind.NodeReset);
        Assert.Equal(0x0030, reset.Node!.Value.Value);
        Assert.InRange(First(network, "node-reset") - reset.TimeNs, 0, 1_500_000_000);
        Assert.Contains(network.History.Lifecycle, one => one.Kind == LifecycleKind.UnprovisionedBeacon && one.TimeNs > reset.TimeNs);
    }

    private static void Follows(long heardNs, long happenedNs) => Assert.InRange(heardNs - happenedNs, 0, 21_000_000_000);

    private static long First(ComposedNetwork network, string what) => Events(network, what).First().TimeNs;

    private static IEnumerable<(long TimeNs, int Phase)> Events(ComposedNetwork network, string what) =>
        !network.Truth.TryGetProperty("lifecycle", out JsonElement rows) ? [] : rows.EnumerateArray().Where(row => row.GetProperty("what").GetString() == what)
            .Select(row => (ComposedNetwork.NsOf(row.GetProperty("time").GetString()!), row.TryGetProperty("phase", out JsonElement phase) ? phase.GetInt32() : -1));

    /// <summary>Every PDU that was sent is there, and every access message among them is open.</summary>
    private static void AllOpened(ComposedNetwork network)
    {
        Assert.Equal(network.Truth.GetProperty("floodCount").GetInt32(), network.History.Floods.Count);
        for (int row = 0; row < network.History.Messages.Count; row++)
            Assert.True(network.History.Messages[row].IsControl || network.History.Messages[row].Key != MessageKey.None, $"message {row}");
    }
}
