using System.Text.Json;
using MeshTrace.Protocol;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.UpperTransport.Control;
using MeshTrace.Synthesis.Nodes.Friendship;

namespace MeshTrace.Synthesis.Tests.Nodes.Friendship;

public class FriendshipTests
{
    private const string Lpn = "\"unicast\": \"0030\", \"lowPower\": true, \"friendship\": {\"pollS\": 4, \"pollTimeoutS\": 20, \"receiveDelayMs\": 80}, \"sequence\": 500",
        Friend = "\"unicast\": \"0020\", \"friend\": true, \"friendReceiveWindowMs\": 40, ";

    private static string Scenario(params (string, string)[] changes) =>
        Chain.With([("\"unicast\": \"0020\", ", Friend), ("\"unicast\": \"0030\", \"sequence\": 500", Lpn), ("\"atS\": 1, ", "\"atS\": 10, "), .. changes]);

    // Mesh Protocol 1.1 §3.6.5: layouts as the catalogue of control messages reads them.
    [Fact]
    public void EachMessage_ReadsAsItWasMeant()
    {
        Reads(new FriendPollContent(1), "Friend Poll", ("FSN", 1));
        Reads(new FriendUpdateContent(0x01020304, true, true, true), "Friend Update", ("IVIndex", 0x01020304), ("MD", 1));
        Reads(new FriendClearContent(new MeshAddress(0x0030), 7), "Friend Clear", ("LPNAddress", 0x30), ("LPNCounter", 7));
        Reads(new FriendClearConfirmContent(new MeshAddress(0x0030), 7), "Friend Clear Confirm", ("LPNAddress", 0x30), ("LPNCounter", 7));
        Reads(new SubscriptionListContent(true, 3, [new MeshAddress(0xC001), new MeshAddress(0xC002)]), "Friend Subscription List Add", ("TransactionNumber", 3));
        Reads(new SubscriptionListContent(false, 4, [new MeshAddress(0xC001)]), "Friend Subscription List Remove", ("TransactionNumber", 4));
        Reads(new SubscriptionListConfirmContent(3), "Friend Subscription List Confirm", ("TransactionNumber", 3));
    }

    [Fact]
    public void RequestAndOffer_SayWhatTheScenarioSays()
    {
        var composed = Composed.Of(Scenario());
        DecodedControl request = Control(composed, "Friend Request"), offer = Control(composed, "Friend Offer");
        Assert.Equal((80, 200, 1), (request["ReceiveDelay"]!.Number, request["PollTimeout"]!.Number, request["NumElements"]!.Number));
        Assert.Equal((40, 16, 16), (offer["ReceiveWindow"]!.Number, offer["QueueSize"]!.Number, offer["SubscriptionListSize"]!.Number));
    }

    /// <summary>The answer starts after ReceiveDelay and within ReceiveWindow after it (§3.6.6.4.1).</summary>
    [Fact]
    public void AnAnswerToAPoll_FallsIntoTheReceiveWindow()
    {
        var composed = Composed.Of(Scenario());
        List<(string What, long Us)> sent = [.. composed.Floods.Where(flood => flood.GetProperty("events").GetArrayLength() > 0)
            .SelectMany(flood => flood.GetProperty("events").EnumerateArray().Where(one => one.TryGetProperty("friendship", out _))
                .Select(one => (flood.GetProperty("what").GetString()!, (Composed.Nanoseconds(flood.GetProperty("time").GetString()!) / 1000) + one.GetProperty("us").GetInt64())))
            .OrderBy(one => one.Item2)];
        int answers = 0;
        for (int i = 0; i + 1 < sent.Count; i++)
        {
            if (sent[i].What != "Friend Poll" || sent[i + 1].What == "Friend Poll")
                continue;
            Assert.InRange(sent[i + 1].Us - sent[i].Us, 80_000, 121_000);   // the poll itself takes less than 1 ms
            answers++;
        }
        Assert.InRange(answers, 6, 30);
    }

    /// <summary>The press of a panel three hops away comes to the sleeping lamp by its Friend, with the TTL lowered.</summary>
    [Fact]
    public void APress_ComesWithTheNextPoll()
    {
        var composed = Composed.Of(Scenario());
        Assert.Equal("acted", composed.CauseOf(0));
        JsonElement acted = composed.Presses.First().GetProperty("acted")[0];
        long after = Composed.Nanoseconds(acted.GetProperty("time").GetString()!) - Composed.Nanoseconds(composed.Presses.First().GetProperty("time").GetString()!);
        Assert.InRange(after, 100_000_000, 4_500_000_000);
    }

    [Fact]
    public void ALampWithoutPower_IsGivenUpAfterPollTimeout()
    {
        var composed = Composed.Of(Scenario(("\"faults\": []", "\"faults\": [{\"fault\": \"lamp-powered-off\", \"node\": \"lamp\", \"fromS\": 5}]")));
        JsonElement friendship = Assert.Single(composed.Truth.GetProperty("friendships").EnumerateArray());
        Assert.Equal("poll-timeout", friendship.GetProperty("outcome").GetString());
        long lasted = Composed.Nanoseconds(friendship.GetProperty("end").GetString()!) - Composed.Nanoseconds(friendship.GetProperty("time").GetString()!);
        Assert.InRange(lasted, 20_000_000_000, 25_000_000_000);
    }

    [Fact]
    public void WithoutAFriend_TheLampHearsNothing()
    {
        var composed = Composed.Of(Scenario(("\"pollS\": 4,", "\"pollS\": 4, \"retryS\": 25,"), ("\"faults\": []", "\"faults\": [{\"fault\": \"friend-offers-none\"}]")));
        Assert.Equal("not-listening", composed.CauseOf(0));
    }

    private static void Reads(FriendshipContent content, string name, params (string Field, long Value)[] fields)
    {
        byte[] transport = FriendshipMessages.Write(content, -60);
        Assert.True(UnsegmentedControl.TryRead(transport, out var control, out var problem), problem.ToString());
        DecodedControl message = ControlReader.Read(control.Opcode, control.Parameters);
        Assert.False(message.Problem.IsProblem, message.Problem.ToString());
        Assert.Equal((name, name), (message.Definition!.Name, FriendshipMessages.NameOf(content)));
        foreach (var (field, value) in fields)
            Assert.Equal(value, message[field]!.Number);
    }

    /// <summary>The first of these messages in the capture; only those that are sent with the flooding credentials.</summary>
    private static DecodedControl Control(Composed composed, string name)
    {
        JsonElement told = composed.Floods.First(flood => flood.GetProperty("what").GetString() == name);
        DecodedFrame frame = composed.Frames.First(one => one.IsPdu && one.Ctl && one.Seq == told.GetProperty("seq").GetUInt32() && one.Src.ToString() == told.GetProperty("src").GetString());
        Assert.True(UnsegmentedControl.TryRead(frame.TransportPdu, out var control, out _));
        return ControlReader.Read(control.Opcode, control.Parameters);
    }
}
