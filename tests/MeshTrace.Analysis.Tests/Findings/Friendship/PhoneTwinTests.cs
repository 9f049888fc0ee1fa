using System.Globalization;
using System.Text.Json;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Friendship;

/// <summary>A phone at a proxy of a simulated reading room, its log beside what a receiver heard: faults of its filter and of its proxy are told, and nothing in the healthy twin.</summary>
public sealed class PhoneTwinTests
{
    private const string Filter = "proxy-filter-blocks", Forwarding = "proxy-not-forwarding";

    private static ComposedNetwork Play(string fault, double heardShare, int seed = 5, string presses = "true") => ComposedNetwork.Of(new ReadingRoom
    {
        LastsS = 120, HeardShare = heardShare, Faults = fault, Seed = seed, Relay = """, "proxy": true, "heartbeat": {"to": "States", "periodS": 4}""",
        Nodes = """
            , {"name": "phone", "unicast": "0060", "place": [5, 1], "phone": {"proxy": "relay", "fromS": 3, "untilS": 115},
               "elements": [{"models": ["1001"], "subscribe": ["States"], "publish": {"to": "Reading room"} }] }
            """,
        Schedule = string.Join(", ", Enumerable.Range(0, 24).Select(press => string.Create(CultureInfo.InvariantCulture,
            $$"""{"press": "{{(press % 3 == 0 ? "panel" : "phone")}}", "atS": {{8 + (press * 4)}}, "asks": "{{(press % 2 == 0 ? "on" : "off")}}", "acknowledged": {{presses}}}"""))),
    }.ToScenario());

    public static TheoryData<double, int, string> Twins => new()
    {
        { 1, 5, "true" }, { 0.5, 5, "true" }, { 0.5, 6, "false" }, { 0.3, 7, "true" }, { 0.1, 8, "true" },
    };

    [Theory, MemberData(nameof(Twins))]
    public void AHealthyPhone_RaisesNothing(double heardShare, int seed, string acknowledged)
    {
        ComposedNetwork network = Play("", heardShare, seed, acknowledged);
        Assert.All(network.Truth.GetProperty("presses").EnumerateArray(), press => Assert.Equal("all", press.GetProperty("fate").GetString()));
        Assert.Empty(network.History.Findings.Where(finding => finding.Id != "capture-too-thin").Select(finding => $"{finding.Id}: {finding.Says}"));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(0.5)]
    public void AGroupThatThePhoneForgets_IsTold(double heardShare)
    {
        ComposedNetwork network = Play("""{"fault": "proxy-filter-blocks", "node": "phone", "group": "States"}""", heardShare);
        Finding finding = Assert.Single(FindingNetwork.Of(network, Filter));
        Assert.Equal(("relay", Confidence.Likely), (network.NameOf(finding.Node!.Value), finding.Confidence));
        Assert.Contains("States", finding.Says, StringComparison.Ordinal);
        JsonElement truth = network.Truth.GetProperty("proxyConnections")[0];
        Assert.Equal(0, truth.GetProperty("notified").GetInt32() - Notified(network));
        Assert.True(truth.GetProperty("blocked").GetInt32() >= finding.Evidence.Count(evidence => evidence.Record == "flood"));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(0.5)]
    public void AFilterWithoutRoom_IsTold(double heardShare)
    {
        ComposedNetwork network = Play("""{"fault": "proxy-filter-blocks", "node": "phone", "room": 1}""", heardShare);
        Finding finding = Assert.Single(FindingNetwork.Of(network, Filter));
        Assert.Equal(("relay", Confidence.Certain), (network.NameOf(finding.Node!.Value), finding.Confidence));
        Assert.Contains("holds 1 addresses", finding.Says, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(0.5)]
    public void AProxyThatPutsNothingOnTheAir_IsTold(double heardShare)
    {
        ComposedNetwork network = Play("""{"fault": "proxy-not-forwarding", "node": "relay"}""", heardShare);
        Finding finding = Assert.Single(FindingNetwork.Of(network, Forwarding));
        Assert.Equal("relay", network.NameOf(finding.Node!.Value));
        Assert.Equal(network.Truth.GetProperty("proxyConnections")[0].GetProperty("keptFromAir").GetInt32(), finding.Evidence.Count);
    }

    /// <summary>Both sides of the connection agree with the truth: the filter, each PDU written, each PDU given to the phone.</summary>
    [Fact]
    public void TheLogOfThePhone_HasWhatReallyWent()
    {
        ComposedNetwork network = Play("", 1);
        JsonElement truth = network.Truth.GetProperty("proxyConnections")[0];
        ConnectionRecord connection = Assert.Single(network.History.Connections);
        Assert.Equal((truth.GetProperty("written").GetInt32(), truth.GetProperty("notified").GetInt32()), (connection.Counts.NetworkPdusFromClient, Notified(network)));
        Assert.Equal(truth.GetProperty("held").EnumerateArray().Select(address => address.GetString()), connection.FilterAt(long.MaxValue).Addresses.Select(address => address.ToString()));
        Assert.True(connection.FilterAt(long.MaxValue).IsCertain);
        Assert.Equal(0, connection.Counts.ConfigurationMessagesUnopened + connection.Counts.ProxyPdusLost);
        // What the phone wrote at TTL 5 is on the air at TTL 4 at most.
        for (int row = 0; row < network.History.Floods.Count; row++)
        {
            if (network.History.Floods[row].Src.Value != 0x0060)
                continue;
            Assert.Equal(5, network.History.Floods[row].HighestTtl);
            foreach (FloodCopy copy in network.History.CopiesOf(row))
                Assert.True(copy.Bearer == Bearer.GattFromClient ? copy.Ttl == 5 : copy.Ttl <= 4);
        }
    }

    private static int Notified(ComposedNetwork network) => Assert.Single(network.History.Connections).Counts.NetworkPdusFromServer;
}
