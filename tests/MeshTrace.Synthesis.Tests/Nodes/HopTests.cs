using System.Text.Json;
using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Tests.Nodes;

/// <summary>TTL, relaying, cache and replay over the chain of four nodes.</summary>
public class HopTests
{
    private static List<(string By, int Ttl)> Hops(JsonElement flood) =>
        [.. flood.GetProperty("events").EnumerateArray().Select(sent =>
            (sent.GetProperty("by").GetString()!, sent.GetProperty("ttl").GetInt32())).Distinct().OrderByDescending(hop => hop.Item2)];

    // Mesh Protocol 1.1 §3.4.6.3: a relay takes PDUs with TTL 2 or more and sends them with TTL - 1.
    [Theory]
    [InlineData(5, "panel 5, relay a 4, relay b 3", "acted")]
    [InlineData(3, "panel 3, relay a 2, relay b 1", "acted")]
    [InlineData(2, "panel 2, relay a 1", "ttl-too-low")]
    [InlineData(0, "panel 0", "ttl-too-low")]
    public void Relays_LowerTheTtlByOneAndStopAtOne(int ttl, string hops, string fate)
    {
        var composed = Composed.Of(Chain.With(("\"acknowledged\": true}", $"\"ttl\": {ttl}}}")));
        JsonElement flood = composed.Floods.First();
        Assert.Equal(hops, string.Join(", ", Hops(flood).Select(hop => $"{hop.By} {hop.Ttl}")));
        Assert.Equal(fate, composed.CauseOf(0));
        Assert.Equal(hops.Split(", ").Select(hop => byte.Parse(hop.Split(' ')[^1], null)).Order(),
            composed.Frames.Where(frame => frame.IsPdu && frame.Seq == 100).Select(frame => frame.Ttl).Distinct().Order());
    }

    // §3.4.5.2: the output filter drops what a node originates with TTL 1.
    [Fact]
    public void TtlOne_IsNotSent()
    {
        var composed = Composed.Of(Chain.With(("\"acknowledged\": true}", "\"ttl\": 1}")));
        Assert.DoesNotContain(composed.Frames, frame => frame.IsPdu);
        Assert.Equal("not-sent (ttl-one)", composed.CauseOf(0));
    }

    [Fact]
    public void OwnUnicastDestination_IsNotRelayed()
    {
        var composed = Composed.Of(Chain.With(("\"asks\": \"on\"", "\"asks\": \"on\", \"to\": \"0010\"")));
        Assert.Equal([("panel", 5)], Hops(composed.Floods.First()));
    }

    [Fact]
    public void EachRelay_SendsAPduOnceWithItsRetransmissions()
    {
        var composed = Composed.Of(Chain.With(("\"relay\": true, \"elements\"",
            "\"relay\": true, \"relayRetransmit\": {\"transmissions\": 2, \"intervalMs\": 40}, \"elements\"")));
        var sent = composed.Floods.First().GetProperty("events").EnumerateArray().GroupBy(item =>
            item.GetProperty("by").GetString()!).ToDictionary(group => group.Key, group => group.ToList());
        Assert.Equal(3, sent["panel"].Count);
        Assert.Equal(2, sent["relay a"].Count);
        Assert.Equal(2, sent["relay b"].Count);
        // §4.2.20, §4.2.21: each interval is lengthened by a random 0-10 ms.
        Assert.All(Gaps(sent["panel"]), gap => Assert.InRange(gap, 20_000, 30_000));
        Assert.All(Gaps(sent["relay a"]), gap => Assert.InRange(gap, 40_000, 50_000));
    }

    private static IEnumerable<long> Gaps(List<JsonElement> events) =>
        events.Zip(events.Skip(1), (first, second) => second.GetProperty("us").GetInt64() - first.GetProperty("us").GetInt64());

    // §3.7.3.1: an answer to a group request after 20-500 ms; to a unicast one after 20-50 ms.
    [Theory]
    [InlineData("", 20, 500)]
    [InlineData(", \"to\": \"0030\"", 20, 50)]
    public void Answer_ComesAfterItsRandomDelay(string to, int leastMs, int mostMs)
    {
        for (int seed = 1; seed < 12; seed++)
        {
            JsonElement press = Composed.Of(Chain.With(("\"asks\": \"on\"", "\"asks\": \"on\"" + to),
                ("\"seed\": 11", $"\"seed\": {seed}"))).Presses.First();
            long acted = Composed.Nanoseconds(press.GetProperty("acted")[0].GetProperty("time").GetString()!);
            long sent = Composed.Nanoseconds(press.GetProperty("answered")[0].GetProperty("sent").GetString()!);
            Assert.InRange((sent - acted) / 1e6, leastMs, mostMs);
        }
    }

    [Fact]
    public void Sequence_RisesByOneForEachPduOfAnElement()
    {
        var composed =
            Composed.Of(Chain.With(("\"schedule\": [",
                "\"schedule\": [{\"atS\": 3, \"press\": \"panel\", \"asks\": \"off\"}, {\"atS\": 5, \"press\": \"panel\", \"asks\": \"on\"},")));
        Assert.Equal([100u, 101u, 102u],
            composed.Frames.Where(frame => frame.Src == new MeshAddress(1)).Select(frame => frame.Seq).Distinct());
    }

    [Fact]
    public void UnansweredRequest_IsRepeatedWithTheSameTid()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"lamp-powered-off\", \"node\": \"lamp\"}"));
        JsonElement press = composed.Presses.First();
        Assert.Equal("powered-off", composed.CauseOf(0));
        Assert.Equal(3, press.GetProperty("floods").GetArrayLength());
    }
}
