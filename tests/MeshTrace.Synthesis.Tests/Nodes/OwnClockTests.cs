using MeshTrace.Protocol.Bearer;

namespace MeshTrace.Synthesis.Tests.Nodes;

/// <summary>What nodes send by themselves: beacons, heartbeats, periodic publications.</summary>
public class OwnClockTests
{
    private const string Press = "{\"atS\": 1, \"press\": \"panel\", \"asks\": \"on\", \"acknowledged\": true}";

    // Mesh Protocol 1.1 §3.10.3.1: about one beacon in 10 s for the subnet; a node that hears others waits longer. A lone node: every 10 s.
    [Theory]
    [InlineData(1, 25, 31)]
    [InlineData(2, 15, 50)]
    public void SecureBeacons_ShareTheirInterval(int beaconing, int least, int most)
    {
        var changes = new List<(string, string)> { ("\"lastsS\": 30", "\"lastsS\": 300"), (Press, ""),
            ("\"sequence\": 100,", "\"sequence\": 100, \"beacon\": true,") };
        if (beaconing == 2)
            changes.Add(("\"unicast\": \"0010\",", "\"unicast\": \"0010\", \"beacon\": true,"));
        var composed = Composed.Of(Chain.With([.. changes]));
        Assert.InRange(composed.Truth.GetProperty("beacons").GetArrayLength(), least, most);
        Assert.All(composed.Frames, frame => Assert.Equal(AdType.MeshBeacon, frame.Type));
    }

    [Fact]
    public void Heartbeats_ComeEveryPeriod()
    {
        var composed = Composed.Of(Chain.With((Press, ""),
            ("\"sequence\": 500,", "\"sequence\": 500, \"heartbeat\": {\"to\": \"panel\", \"periodS\": 4, \"ttl\": 6},")));
        var floods = composed.Floods.ToList();
        Assert.InRange(floods.Count, 7, 8);
        Assert.All(floods, flood => Assert.Equal("Heartbeat", flood.GetProperty("what").GetString()));
        // §3.6.5.10: opcode 0x0A, InitTTL, features (none in use).
        Assert.All(composed.Frames, frame => Assert.Equal(new byte[] { 0x0A, 6, 0, 0 }, frame.TransportPdu));
    }

    [Fact]
    public void PeriodicPublication_TellsTheState()
    {
        var composed = Composed.Of(Chain.With((Press, ""),
            ("\"models\": [\"1000\", \"1002\", \"1300\", \"1203\"], \"subscribe\": [\"Jetty\"]",
                "\"models\": [\"1000\"], \"publish\": {\"to\": \"Slipway\", \"periodMs\": 5000, \"retransmitCount\": 1}")));
        var floods = composed.Floods.ToList();
        Assert.Equal(2 * 5, floods.Count);   // at 5, 10, 15, 20, 25 s, each with one retransmission under a new SEQ
        Assert.All(floods, flood => Assert.Equal("Generic OnOff Status", flood.GetProperty("what").GetString()));
    }

    [Fact]
    public void UnprovisionedBeacons_StopWhenTheNodeIsProvisioned()
    {
        var composed = Composed.Of(Chain.With((Press, ""),
            ("\"sequence\": 500,", "\"sequence\": 500, \"configured\": false, \"provisionedAtS\": 12,")));
        var beacons = composed.Truth.GetProperty("beacons").EnumerateArray().ToList();
        Assert.InRange(beacons.Count, 5, 7);
        Assert.All(beacons, beacon => Assert.Equal("unprovisioned", beacon.GetProperty("kind").GetString()));
        Assert.True(Composed.Nanoseconds(beacons[^1].GetProperty("time").GetString()!) < Composed.Nanoseconds("2026-04-18T09:00:12.100000000Z"));
    }
}
