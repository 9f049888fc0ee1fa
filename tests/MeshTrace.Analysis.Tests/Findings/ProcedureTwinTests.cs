using System.Globalization;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings;

/// <summary>Networks that go through a procedure as they should raise no finding, however thinly they are heard; the same with a fault raise the one that is named so.</summary>
public sealed class ProcedureTwinTests
{
    private const string Beacons = """, "beacon": true""", Lpn = """, "lowPower": true, "friendship": {"pollS": 5, "pollTimeoutS": 30}""",
        KeyRefresh = """{"atS": 10, "keyRefresh": 0, "by": "tablet", "phase2AfterS": 20, "phase3AfterS": 40}, """;

    private static readonly ReadingRoom Days = new()
    {
        LastsS = 361_000, Truth = "presses", Relay = Beacons, Receiver = """, "deaf": [{"fromS": 400, "untilS": 360000}]""",
        Schedule = """{"atS": 100, "ivUpdate": "relay", "lastsS": 360000}, """ + Presses(12, 200, 9) + ", " + Presses(360_200, 360_900, 50),
    };

    private static readonly Dictionary<string, ReadingRoom> Rooms = new()
    {
        ["friendship of a lamp"] = new ReadingRoom { LastsS = 120, Relay = """, "friend": true""", Lamp = Lpn, Schedule = Presses(12, 110, 9) },
        ["friendship of a panel"] = new ReadingRoom { LastsS = 120, Relay = """, "friend": true""", Panel = Lpn, Schedule = Presses(12, 110, 9).Replace("true", "false", StringComparison.Ordinal) },
        ["friendship of a slow lamp"] = new ReadingRoom
        {
            LastsS = 120, Relay = """, "friend": true""", Lamp = Lpn.Replace("\"pollS\": 5", "\"pollS\": 25", StringComparison.Ordinal), Schedule = Presses(12, 110, 3).Replace("true", "false", StringComparison.Ordinal),
        },
        ["provisioning"] = new ReadingRoom
        {
            LastsS = 120, Schedule = """{"atS": 5, "provision": "lamp", "by": "tablet"}, {"atS": 25, "configure": "lamp", "by": "tablet"}, """ + Presses(50, 110, 9),
        },
        ["IV update"] = Days,
        ["key refresh"] = new ReadingRoom { LastsS = 200, Relay = Beacons, Tablet = Beacons, Schedule = KeyRefresh + Presses(12, 190, 9) },
        ["private beacons"] = new ReadingRoom { LastsS = 120, Relay = """, "privateBeacon": true""", Schedule = Presses(12, 110, 9) },
    };

    public static TheoryData<string, double, int> Healthy
    {
        get
        {
            var data = new TheoryData<string, double, int>();
            foreach (string room in Rooms.Keys)
                foreach (double share in new[] { 1, 0.6 })
                    for (int seed = 11; seed < 13; seed++)
                        data.Add(room, share, seed);
            return data;
        }
    }

    [Theory, MemberData(nameof(Healthy))]
    public void AHealthyProcedure_RaisesNothing(string room, double heardShare, int seed)
    {
        ComposedNetwork network = ComposedNetwork.Of((Rooms[room] with { Seed = seed, HeardShare = heardShare }).ToScenario());
        Assert.All(network.Truth.GetProperty("presses").EnumerateArray(), press => Assert.Equal("all", press.GetProperty("fate").GetString()));
        // A friendship whose Offer was not heard cannot be opened: what is said of its PDUs names it.
        Assert.Empty(network.History.Findings.Where(one => one.Id != "unknown-network" || !one.Says.Contains("Low Power", StringComparison.Ordinal)).Select(one => $"{one.Id}: {one.Says}"));
    }

    [Theory]
    [InlineData("friendship of a lamp", """{"fault": "friend-lost", "node": "relay", "fromS": 40, "untilS": 80}""", "friend-lost")]
    [InlineData("friendship of a panel", """{"fault": "friend-lost", "node": "relay", "fromS": 40, "untilS": 80}""", "friend-lost")]
    [InlineData("friendship of a lamp", """{"fault": "friend-offers-none"}""", "friend-offers-none")]
    [InlineData("friendship of a slow lamp", """{"fault": "friend-queue-overflow", "node": "relay"}""", "friend-queue-overflow")]
    [InlineData("provisioning", """{"fault": "provisioning-failed", "node": "lamp", "how": "confirmation"}""", "provisioning-failed")]
    [InlineData("provisioning", """{"fault": "provisioning-failed", "node": "lamp", "how": "timeout"}""", "provisioning-failed")]
    [InlineData("provisioning", """{"fault": "provisioning-failed", "node": "lamp", "how": "stops"}""", "provisioning-failed")]
    [InlineData("provisioning", """{"fault": "provisioning-repeats", "node": "lamp"}""", "provisioning-repeats")]
    [InlineData("provisioning", """{"fault": "still-unprovisioned", "node": "lamp"}""", "still-unprovisioned")]
    [InlineData("IV update", """{"fault": "iv-update-out-of-time", "lastsS": 240000}""", "iv-update-out-of-time")]
    [InlineData("key refresh", """{"fault": "key-refresh-stuck", "node": "panel"}""", "key-refresh-stuck")]
    public void TheSameWithAFault_RaisesItsFinding(string room, string fault, string id)
    {
        ReadingRoom faulty = Rooms[room] with
        {
            Faults = fault, Panel = Rooms[room].Panel.Length > 0 ? Rooms[room].Panel : """, "heartbeat": {"to": "States", "periodS": 5}""", Receiver = Rooms[room].Receiver.Replace("360000", "239000", StringComparison.Ordinal),
        };
        foreach (double share in new[] { 1, 0.6 })
            Assert.Contains(id, ComposedNetwork.Of((faulty with { HeardShare = share }).ToScenario()).History.Findings.Select(one => one.Id));
    }

    private static string Presses(double fromS, double untilS, double everyS) => string.Join(", ", Enumerable.Range(0, (int)((untilS - fromS) / everyS)).Select(i =>
        string.Create(CultureInfo.InvariantCulture, $$"""{"atS": {{fromS + (i * everyS)}}, "press": "panel", "asks": "{{(i % 2 == 0 ? "on" : "off")}}", "acknowledged": true}""")));
}
