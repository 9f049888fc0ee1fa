using System.Text.Json;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.Tests.Keys;

/// <summary>Friendships of a simulated network: the analysis derives their keys from Request and Offer, and sees what the two really did.</summary>
public sealed class FriendshipTruthTests
{
    private const string Lpn = """, "lowPower": true, "friendship": {"pollS": 5, "pollTimeoutS": 30}""", Presses = """
        {"atS": 12, "press": "panel", "asks": "on"}, {"atS": 21, "press": "panel", "asks": "off"}, {"atS": 34, "press": "panel", "asks": "on", "acknowledged": true}
        """;

    private static readonly ReadingRoom Room = new() { Relay = """, "friend": true""", Lamp = Lpn, Schedule = Presses };

    [Fact]
    public void ALampBehindAFriend_GetsItsMessagesByPolling_AndAllIsOpened()
    {
        ComposedNetwork network = ComposedNetwork.Of(Room.ToScenario());
        JsonElement friendship = Assert.Single(network.Truth.GetProperty("friendships").EnumerateArray());
        Assert.Equal(("relay", "lamp", "lasting"), (Text(friendship, "friend"), Text(friendship, "lpn"), Text(friendship, "outcome")));
        Assert.All(network.Truth.GetProperty("presses").EnumerateArray(), press => Assert.Equal("all", Text(press, "fate")));
        AllHeardAndOpened(network);
        Dictionary<string, int> names = Names(network);
        Assert.All((string[])["Friend Request", "Friend Offer", "Friend Poll", "Friend Update", "Friend Subscription List Add", "Friend Subscription List Confirm"],
            name => Assert.True(names.ContainsKey(name), name));
        Assert.Equal(Number(friendship, "polls"), names["Friend Poll"]);
        LifecycleEvent begun = network.History.Lifecycle.Single(one => one.Kind == LifecycleKind.FriendshipBegun);
        Assert.Equal(0x0030, begun.Node!.Value.Value);
        Assert.InRange(begun.TimeNs - ComposedNetwork.NsOf(Text(friendship, "time")), 0, 200_000_000);   // the answer to the first poll
    }

    /// <summary>Everything with the credentials of the friendship is from one of the two or was stored: the press that the Friend gives keeps its SRC and SEQ.</summary>
    [Fact]
    public void AStoredMessage_IsTheFloodThatItWas_OneLowerInTtl()
    {
        ComposedNetwork network = ComposedNetwork.Of(Room.ToScenario());
        CaptureHistory history = network.History;
        int[] presses = [.. Enumerable.Range(0, history.Floods.Count).Where(row => history.Floods[row].Src.Value == 0x0010)];
        Assert.NotEmpty(presses);
        int[] given = [.. presses.Where(row => history.Floods[row].Credentials == Credentials.Friendship)];
        Assert.Equal(3, given.Length);
        Assert.All(given, row => Assert.Equal((4, 4), (history.Floods[row].LowestTtl, history.Floods[row].HighestTtl)));
        // The stored one is no message of its own: three presses, not six.
        Assert.Equal(3, history.Presses.Count);
        Assert.All(given, row => Assert.Contains(presses, other => other != row && history.Floods[other].Message == history.Floods[row].Message));
    }

    /// <summary>
    /// A message in segments to a node behind a Friend: the Friend acknowledges it at once, and gives the same PDUs on at the next poll. These are no
    /// transmissions of the sender, which stopped as it should.
    /// </summary>
    [Fact]
    public void SegmentsThatAFriendGivesOn_AreNotSentAgainByTheirSender()
    {
        ComposedNetwork network = ComposedNetwork.Of((Room with { Schedule = """{"atS": 12, "transfer": "tablet", "to": "lamp", "octets": 40}, {"atS": 40, "press": "panel", "asks": "on"}""" }).ToScenario());
        CaptureHistory history = network.History;
        int row = Enumerable.Range(0, history.Transfers.Count).Single(row => history.Transfers[row].Src.Value == 0x0001 && history.Transfers[row].Dst.Value == 0x0030);
        Transfer transfer = history.Transfers[row];
        JsonElement truth = network.Truth.GetProperty("transfers").EnumerateArray().Single(one => Text(one, "src") == "0x0001" && Text(one, "dst") == "0x0030");
        Assert.Contains(transfer.Sent, segment => segment.GivenOn && history.Floods[segment.Flood].Credentials == Credentials.Friendship);
        Assert.Equal(truth.GetProperty("sent").GetArrayLength(), transfer.Sent.Count(segment => !segment.GivenOn));
        Assert.InRange(transfer.LastTimeNs - ComposedNetwork.NsOf(Text(truth, "end")), -50_000_000, 50_000_000);
        Assert.Single(history.Timelines[row].Rounds);
        Assert.DoesNotContain(history.Findings, finding => finding.Id is "acknowledgment-not-arriving" or "transfer-slow" or "transfer-given-up");
    }

    /// <summary>What a Friend gives has the SRC of another node: that one did not send it, and it is no original.</summary>
    [Theory]
    [InlineData("static", true)]
    [InlineData("static", false)]
    [InlineData("each", true)]
    [InlineData("each", false)]
    public void ACopyUnderFriendshipCredentials_IsTheFriendsOrNobodys(string address, bool described)
    {
        string each = $", \"address\": \"{address}\"";
        ComposedNetwork network = ComposedNetwork.Of((Room with { Relay = Room.Relay + each, Lamp = Room.Lamp + each, Panel = each, Tablet = each, OtherLamp = each }).ToScenario(), described);
        var truth = new CopyTruth(network);
        CaptureHistory history = network.History;
        int copies = 0;
        for (int flood = 0; flood < history.Floods.Count; flood++)
        {
            if (history.Floods[flood].Credentials != Credentials.Friendship)
                continue;
            SentFlood sent = truth.Of(flood);
            foreach (FloodCopy copy in history.CopiesOf(flood))
            {
                if (truth.SenderOf(sent, copy) is not { } by)
                    continue;
                copies++;
                if (history.SenderOf(copy) is { } sender)
                    Assert.Equal(by, network.NameOf(sender));
                if (history.HopOf(flood, copy) is { } hop)
                    Assert.Equal(sent.Ttl - copy.Ttl, hop);
            }
        }
        Assert.InRange(copies, 30, 500);
    }

    [Fact]
    public void ASegmentedMessageForTheLpn_IsAcknowledgedByItsFriend()
    {
        ComposedNetwork network = ComposedNetwork.Of((Room with { Schedule = """{"atS": 12, "transfer": "panel", "to": "lamp", "octets": 40}""" }).ToScenario());
        JsonElement transfer = Assert.Single(network.Truth.GetProperty("transfers").EnumerateArray());
        Assert.Equal(("acknowledged", "0x0030"), (Text(transfer, "outcome"), Text(transfer.GetProperty("arrived")[0], "element")));
        Assert.All(transfer.GetProperty("acks").EnumerateArray(), ack => Assert.Equal("0x0020", Text(ack, "from")));
        AllHeardAndOpened(network);
        Transfer heard = Assert.Single(network.History.Transfers);
        Assert.Equal(TransferOutcome.Acknowledged, heard.Outcome);
    }

    [Fact]
    public void AFriendThatAnswersNoPoll_IsLost_AndTheNextOneClearsIt()
    {
        ComposedNetwork network = ComposedNetwork.Of((Room with
        {
            OtherLamp = """, "friend": true, "txPowerDbm": -8""",
            Faults = """{"fault": "friend-lost", "node": "relay", "fromS": 15}""",
        }).ToScenario());
        JsonElement[] friendships = [.. network.Truth.GetProperty("friendships").EnumerateArray()];
        Assert.Equal(["relay", "other lamp"], friendships.Select(one => Text(one, "friend")));
        Assert.Equal(["cleared", "lasting"], friendships.Select(one => Text(one, "outcome")));
        AllHeardAndOpened(network);
        Assert.Equal([LifecycleKind.FriendshipBegun, LifecycleKind.FriendshipCleared, LifecycleKind.FriendshipBegun],
            network.History.Lifecycle.Where(one => one.Kind is LifecycleKind.FriendshipBegun or LifecycleKind.FriendshipCleared).Select(one => one.Kind));
        Assert.True(Names(network).ContainsKey("Friend Clear Confirm"));
    }

    [Fact]
    public void WithoutAnOffer_TheRequestIsRepeated_AndTheTwinGetsOne()
    {
        ComposedNetwork network = ComposedNetwork.Of((Room with { Faults = """{"fault": "friend-offers-none"}""" }).ToScenario());
        Dictionary<string, int> names = Names(network);
        Assert.InRange(names["Friend Request"], 10, 30);
        Assert.False(names.ContainsKey("Friend Offer") || names.ContainsKey("Friend Poll"));
        Assert.False(network.Truth.TryGetProperty("friendships", out _));
        Assert.DoesNotContain(network.History.Lifecycle, one => one.Kind == LifecycleKind.FriendshipBegun);
    }

    [Theory]
    [InlineData("""{"fault": "friend-queue-overflow", "node": "relay"}""", true)]
    [InlineData("", false)]
    public void AShortQueue_LosesWhatComesTooFast(string fault, bool overflows)
    {
        ComposedNetwork network = ComposedNetwork.Of((Room with
        {
            Lamp = Lpn.Replace("\"pollS\": 5", "\"pollS\": 15", StringComparison.Ordinal),
            Schedule = string.Join(", ", Enumerable.Range(0, 5).Select(i => $$"""{"atS": {{18 + (i * 2)}}, "press": "panel", "asks": "{{(i % 2 == 0 ? "on" : "off")}}"}""")), Faults = fault,
        }).ToScenario());
        JsonElement friendship = Assert.Single(network.Truth.GetProperty("friendships").EnumerateArray());
        Assert.Equal(overflows ? 3 : 0, Number(friendship, "dropped"));
        Assert.Equal(overflows ? 3 : 0, network.Truth.GetProperty("presses").EnumerateArray()
            .Count(press => press.GetProperty("lost").EnumerateArray().Any(lost => Text(lost, "cause") == "friend-queue-overflow")));
        AllHeardAndOpened(network);
    }

    [Fact]
    public void ASubscriptionThatIsRemoved_BringsNothingMore()
    {
        ComposedNetwork network = ComposedNetwork.Of((Room with { Lamp = Lpn.Replace("\"pollS\": 5", "\"pollS\": 5, \"removes\": [{\"atS\": 16, \"group\": \"Reading room\"}]", StringComparison.Ordinal) }).ToScenario());
        Assert.Equal(["all", "some", "some"], network.Truth.GetProperty("presses").EnumerateArray().Select(press => Text(press, "fate")));
        Assert.True(Names(network).ContainsKey("Friend Subscription List Remove"));
    }

    /// <summary>The new NetKey gives the friendship new keys too (Mesh Protocol 1.1 §3.9.6.3.1): both are derived.</summary>
    [Fact]
    public void AFriendshipThroughAKeyRefresh_StaysOpen()
    {
        ComposedNetwork network = ComposedNetwork.Of((Room with
        {
            LastsS = 120, Relay = """, "friend": true, "beacon": true""",
            Schedule = Presses + """, {"atS": 20, "keyRefresh": 0, "by": "tablet", "phase2AfterS": 20, "phase3AfterS": 20}, {"atS": 110, "press": "panel", "asks": "off"}""",
        }).ToScenario());
        Assert.All(network.Truth.GetProperty("presses").EnumerateArray(), press => Assert.Equal("all", Text(press, "fate")));
        AllHeardAndOpened(network);
    }

    /// <summary>Of what the receiver heard: a PDU that was sent under the credentials of a friendship too is another flood with the same message.</summary>
    private static int FloodsOf(ComposedNetwork network) => network.Truth.GetProperty("floods").EnumerateArray()
        .Sum(flood => flood.GetProperty("events").EnumerateArray().Where(sent => sent.TryGetProperty("heard", out _)).Select(sent => sent.TryGetProperty("friendship", out _)).Distinct().Count());

    private static void AllHeardAndOpened(ComposedNetwork network)
    {
        Assert.Equal(FloodsOf(network), network.History.Floods.Count);
        for (int row = 0; row < network.History.Messages.Count; row++)
            Assert.True(network.History.Messages[row].IsControl || network.History.Messages[row].Key != MessageKey.None, $"message {row}");
    }

    /// <summary>Names of the control messages heard, by the protocol's own catalogue, and how many of each.</summary>
    private static Dictionary<string, int> Names(ComposedNetwork network) => Enumerable.Range(0, network.History.Messages.Count).Select(row => network.History.Messages[row])
        .Where(message => message.IsControl).GroupBy(message => MeshTrace.Protocol.UpperTransport.Control.ControlCatalogue.Find((byte)message.Opcode.Value)!.Name)
        .ToDictionary(group => group.Key, group => group.Count());

    private static string Text(JsonElement json, string member) => json.GetProperty(member).GetString()!;

    private static int Number(JsonElement json, string member) => json.GetProperty(member).GetInt32();
}
