using System.Text.Json;
using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Tests.Scenarios;

/// <summary>The faults that give a node or the receiver a wrong habit, over the chain of four nodes.</summary>
public class HabitFaultTests
{
    private static (string, string) First(string incident) => ("\"schedule\": [", $"\"schedule\": [{incident},");

    private static readonly (string, string) Transfer = First("{\"atS\": 6, \"transfer\": \"panel\", \"to\": \"0030\", \"octets\": 40}");

    [Theory]
    [InlineData("{\"fault\": \"press-unanswered\", \"node\": \"lamp\"}", "ignored")]
    [InlineData("{\"fault\": \"press-unanswered\", \"node\": \"lamp\", \"fromS\": 10}", "acted")]
    [InlineData("{\"fault\": \"some-lamps-silent\", \"node\": \"lamp\"}", "ignored")]
    [InlineData("{\"fault\": \"model-not-on-element\", \"node\": \"lamp\", \"model\": \"1000\"}", "no-model")]
    [InlineData("{\"fault\": \"address-reused-too-soon\", \"node\": \"panel\"}", "replay")]
    [InlineData("{\"fault\": \"channel-crowded\", \"place\": [0, 5000]}", "acted")]
    [InlineData("{\"fault\": \"capture-too-thin\", \"receiver\": \"receiver\"}", "acted")]
    public void FirstPress_MeetsItsFate(string fault, string cause) => Assert.Equal(cause, Composed.Of(Chain.WithFault(fault)).CauseOf(0));

    [Fact]
    public void AppKeyOfOtherSubnet_IsNotTheLampsKeyThere()
    {
        (string, string)[] twoSubnets =
        [
            ("\"netKeys\": [{\"index\": 0, \"name\": \"Boathouse\"}]",
                "\"netKeys\": [{\"index\": 0, \"name\": \"Boathouse\"}, {\"index\": 1, \"name\": \"Guests\"}]"),
            ("\"place\": [0, 0],", "\"place\": [0, 0], \"netKeys\": [0, 1],"),
            ("\"place\": [1000, 0],", "\"place\": [1000, 0], \"netKeys\": [0, 1],"),
            ("\"place\": [2000, 0],", "\"place\": [2000, 0], \"netKeys\": [0, 1],"),
            ("\"place\": [3000, 0],", "\"place\": [3000, 0], \"netKeys\": [0, 1],"),
        ];
        Assert.Equal("acted", Composed.Of(Chain.With(twoSubnets)).CauseOf(0));
        Assert.Equal("appkey-unknown", Composed.Of(Chain.WithFault(
            "{\"fault\": \"appkey-of-other-subnet\", \"node\": \"panel\", \"appKey\": 0, \"netKey\": 1}", twoSubnets)).CauseOf(0));
    }

    [Fact]
    public void AnswersCollide_MakesGroupPressesAcknowledged()
    {
        (string, string) plain = ("\"asks\": \"on\", \"acknowledged\": true", "\"asks\": \"on\"");
        Assert.Empty(Answers(Composed.Of(Chain.With(plain))));
        Assert.Single(Answers(Composed.Of(Chain.WithFault("{\"fault\": \"answers-collide\", \"node\": \"panel\"}", plain))));
    }

    [Fact]
    public void RepeatCountedAsNew_RaisesTheTidOfEachRepeat()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"repeat-counted-as-new\", \"node\": \"panel\", \"times\": 4}"));
        Assert.Equal(4, composed.Presses.First().GetProperty("floods").GetArrayLength());
    }

    [Fact]
    public void DoubledStatus_PublishesToTheRequester()
    {
        const string Fault = "{\"fault\": \"doubled-status\", \"node\": \"lamp\", \"to\": \"0001\"}";
        Assert.Equal(2, SentBy(Composed.Of(Chain.WithFault(Fault)), 0x0030).Count());
        Assert.Single(SentBy(Composed.Of(Chain.Json), 0x0030));
    }

    [Fact]
    public void HeartbeatSilent_EndsTheHeartbeats()
    {
        (string, string) heartbeat =
            ("\"place\": [3000, 0],", "\"place\": [3000, 0], \"heartbeat\": {\"to\": \"Slipway\", \"periodS\": 2},");
        int Beats(string fault) => Composed.Of(Chain.WithFault(fault, heartbeat)).Floods
            .Count(flood => flood.GetProperty("what").GetString() == "Heartbeat");
        Assert.InRange(Beats("{\"fault\": \"heartbeat-silent\", \"node\": \"lamp\", \"fromS\": 10}"), 4, 5);
        Assert.InRange(Beats("{\"fault\": \"unknown-network\", \"place\": [0, 5]}"), 14, 15);
    }

    [Fact]
    public void NodeFallsBehind_RelaysLateAndThenNotAtAll()
    {
        string[] presses = [.. Enumerable.Range(0, 12).Select(i => $"{{\"atS\": 2.0{i:00}, \"press\": \"panel\", \"asks\": \"level {i}\", \"to\": \"Slipway\", \"appKey\": 0}}")];
        var composed = Composed.Of(Chain.WithFault(
            "{\"fault\": \"node-falls-behind\", \"node\": \"relay a\", \"paceMs\": 100, \"room\": 4}", First(string.Join(",", presses))));
        var relayed = SentBy(composed, 0x0001).Where(flood => flood.GetProperty("dst").GetString() == "0xC002")
            .Select(flood => flood.GetProperty("events").EnumerateArray().FirstOrDefault(sent => sent.GetProperty("by").GetString() == "relay a"))
            .ToList();
        Assert.Equal(12, relayed.Count);
        var late = relayed.Where(sent => sent.ValueKind == JsonValueKind.Object).Select(sent => sent.GetProperty("us").GetInt64()).ToList();
        Assert.InRange(late.Count, 4, 7);
        Assert.True(late.Max() > 300_000);
    }

    [Fact]
    public void SequenceJumped_GoesForward()
    {
        var composed = Composed.Of(Chain.WithFault(
            "{\"fault\": \"sequence-jumped\", \"node\": \"panel\", \"atS\": 3, \"by\": 5000}",
            First("{\"atS\": 5, \"press\": \"panel\", \"asks\": \"off\", \"acknowledged\": true}")));
        Assert.Contains(SentBy(composed, 1), flood => flood.GetProperty("seq").GetInt64() is > 5000 and < 5200);
        Assert.Equal("acted", composed.CauseOf(1));
    }

    [Fact]
    public void SequenceRunningOut_BeginsHigh() => Assert.All(
        SentBy(Composed.Of(Chain.WithFault("{\"fault\": \"sequence-running-out\", \"node\": \"panel\"}")), 1),
        flood => Assert.True(flood.GetProperty("seq").GetInt64() >= 13_000_000));

    [Theory]
    [InlineData("{\"fault\": \"transfer-given-up\", \"node\": \"lamp\"}", "given-up", 0)]
    [InlineData("{\"fault\": \"transfer-given-up\", \"node\": \"lamp\", \"segment\": 2}", "given-up", 0)]
    [InlineData("{\"fault\": \"reassembly-timed-out\", \"node\": \"panel\"}", "given-up", 0)]
    [InlineData("{\"fault\": \"transfer-slow\", \"node\": \"panel\"}", "acknowledged", 1)]
    [InlineData("{\"fault\": \"transfer-to-group\", \"node\": \"panel\", \"group\": \"Jetty\"}", "sent", 2)]
    public void Transfer_EndsAsTheFaultSays(string fault, string outcome, int arrived)
    {
        var transfer = Composed.Of(Chain.WithFault(fault, Transfer, ("\"lastsS\": 30", "\"lastsS\": 40"))).Transfers.First();
        Assert.Equal(outcome, transfer.GetProperty("outcome").GetString());
        Assert.Equal(arrived > 0, transfer.GetProperty("arrived").GetArrayLength() > 0);
    }

    [Fact]
    public void TransferSlow_TakesSeconds()
    {
        var transfer = Composed.Of(Chain.WithFault("{\"fault\": \"transfer-slow\", \"node\": \"panel\"}", Transfer)).Transfers.First();
        long lasted = Composed.Nanoseconds(transfer.GetProperty("end").GetString()!)
            - Composed.Nanoseconds(transfer.GetProperty("time").GetString()!);
        Assert.True(lasted > 3_000_000_000);   // four segments, a second apart
    }

    private static readonly (string, string)[] Joining =
    [
        First("{\"atS\": 2, \"configure\": \"lamp\", \"by\": \"panel\"}"),
        ("\"place\": [3000, 0],", "\"place\": [3000, 0], \"configured\": false,"), ("\"lastsS\": 30", "\"lastsS\": 60"),
    ];

    [Fact]
    public void ConfigRefused_IsAnsweredWithItsStatusCode()
    {
        var composed = Composed.Of(Chain.WithFault(
            "{\"fault\": \"config-refused\", \"node\": \"lamp\", \"step\": \"bind\", \"status\": 3}",
            [.. Joining, First("{\"atS\": 50, \"press\": \"panel\", \"asks\": \"on\"}")]));
        var setup = composed.Truth.GetProperty("configurations")[0];
        Assert.All(setup.GetProperty("refused").EnumerateArray(), refused =>
            Assert.Equal(("bind", 3), (refused.GetProperty("step").GetString(), refused.GetProperty("status").GetInt32())));
        Assert.Equal("appkey-not-bound", composed.CauseOf(1));
        Assert.Equal("lamp", composed.Truth.GetProperty("faults")[0].GetProperty("node").GetString());
    }

    [Fact]
    public void SetupUnfinished_LeavesStepsOut()
    {
        var composed = Composed.Of(Chain.WithFault(
            "{\"fault\": \"setup-unfinished\", \"node\": \"lamp\", \"steps\": [\"composition\", \"app-keys\"]}", Joining));
        var lamp = composed.Description.GetProperty("nodes").EnumerateArray().Single(node => node.GetProperty("name").GetString() == "lamp");
        Assert.False(lamp.GetProperty("configComplete").GetBoolean());
        Assert.DoesNotContain(composed.Floods, flood => flood.GetProperty("what").GetString() == "Config Model App Bind");
        Assert.Contains(composed.Floods, flood => flood.GetProperty("what").GetString() == "Config AppKey Add");
    }

    [Fact]
    public void AddressReused_StandsInTheExclusions()
    {
        var composed = Composed.Of(Chain.WithFault("{\"fault\": \"address-reused-too-soon\", \"node\": \"panel\"}"));
        JsonElement exclusion = composed.Description.GetProperty("networkExclusions")[0];
        Assert.Equal((6, "0001"), (exclusion.GetProperty("ivIndex").GetInt32(), exclusion.GetProperty("addresses")[0].GetString()));
    }

    [Fact]
    public void CaptureOneChannel_HasOnlyThat() => Assert.All(
        Composed.Of(Chain.WithFault("{\"fault\": \"capture-one-channel\", \"receiver\": \"receiver\", \"channel\": 38}")).Frames,
        frame => Assert.Equal(38, frame.Channel));

    [Fact]
    public void CaptureFollowsOneDevice_HasNothingElse()
    {
        var frames = Composed.Of(Chain.WithFault(
            "{\"fault\": \"capture-follows-one-device\", \"receiver\": \"receiver\", \"node\": \"panel\"}")).Frames;
        Assert.NotEmpty(frames);
        Assert.All(frames, frame => Assert.Equal(new MeshAddress(1), frame.Src));
    }

    [Fact]
    public void CaptureTooThin_HasAThird()
    {
        int all = Composed.Of(Chain.Json).Frames.Count;
        int some = Composed.Of(Chain.WithFault("{\"fault\": \"capture-too-thin\", \"receiver\": \"receiver\", \"share\": 0.3}")).Frames.Count;
        Assert.InRange(some, all * 0.15, all * 0.45);
    }

    private static IEnumerable<JsonElement> SentBy(Composed composed, int src) =>
        composed.Floods.Where(flood => flood.GetProperty("src").GetString() == $"0x{src:X4}");

    private static JsonElement.ArrayEnumerator Answers(Composed composed) => composed.Presses.First().GetProperty("answered").EnumerateArray();
}
