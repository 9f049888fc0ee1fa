using System.Globalization;
using System.Text.Json;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using Xunit.Abstractions;

namespace MeshTrace.Analysis.Tests.ReceiversEye;

/// <summary>Whether the TTL was enough, against simulated networks on a line: each node hears its neighbours only.</summary>
public sealed class EyeReachTests(ITestOutputHelper output)
{
    private static readonly string[] Line = ["panel", "lamp 1", "lamp 2", "lamp 3", "lamp 4"];

    /// <summary>Who sent a copy cannot be told, and all tell by heartbeats how far their messages go.</summary>
    private const string Changing = """, "address": "each", "heartbeat": {"to": "office", "periodS": 8, "ttl": 5}""";

    internal static string Scenario(string faults, int seed, double heard, bool relayLast = false, int rounds = 10, string lamps = "", bool office = true, int panelTtl = 5) => $$$"""
        {
          "scenario": 1, "name": "jetty", "says": "test", "seed": {{{seed}}}, "start": "2026-03-02T18:00:00Z", "lastsS": {{{(rounds * 12) + 20}}},
          "building": {"exponent": 4, "fadingDb": 1, "shadowDb": 0},
          "network": {"name": "Boathouse", "ivIndex": 4, "netKeys": [{"index": 0, "name": "Boathouse"}], "appKeys": [{"index": 0, "name": "Light"}],
            "groups": [{"name": "Jetty", "address": "C001"}]},
          "nodes": [
            {"name": "panel", "place": [0, 0], "defaultTtl": {{{panelTtl}}}, "elements": [{"models": ["1001"], "publish": {"to": "Jetty"}}]},
            {"name": "office", "place": [0, 900], "defaultTtl": 7, "elements": [{"models": ["1001"], "publish": {"to": "Jetty"}}]},
            {{{string.Join(",\n", Enumerable.Range(1, 4).Select(lamp => $$"""{"name": "lamp {{lamp}}", "place": [{{lamp * 900}}, 0], "relay": {{(lamp < 4 || relayLast ? "true" : "false")}}{{lamps}}, "elements": [{"models": ["1000"], "subscribe": ["Jetty"]}]}"""))}}}
          ],
          "links": [
            {{{string.Join(",\n", Enumerable.Range(0, 4).Select(at => $$"""{"from": "{{Line[at]}}", "to": "{{Line[at + 1]}}", "rssiDbm": -65}"""))}}},
            {"from": "office", "to": "lamp 1", "rssiDbm": -65},
            {{{string.Join(",\n", Line.Append("office").Select(node => $$"""{"from": "{{node}}", "to": "everywhere", "rssiDbm": -70}"""))}}}
          ],
          "receivers": [{"name": "everywhere", "place": [0, 450], "channels": "three", "heardShare": {{{heard.ToString(CultureInfo.InvariantCulture)}}}}],
          "schedule": [{{{string.Join(",\n", Enumerable.Range(0, rounds).Select(round => Round(round, office)))}}}],
          "faults": [{{{faults}}}]
        }
        """;

    private static string Round(int number, bool office)
    {
        int at = 5 + (number * 12);
        string asks = number % 2 == 0 ? "on" : "off", then = number % 2 == 0 ? "off" : "on";
        string panel = $$"""{"press": "panel", "atS": {{at}}, "asks": "{{asks}}", "acknowledged": true}""";
        return !office ? panel : $$"""
            {{panel}},
            {"press": "office", "atS": {{at + 6}}, "asks": "{{then}}", "acknowledged": true}
            """;
    }

    [Theory]
    [InlineData(2, false, 1.0)]
    [InlineData(2, false, 0.5)]
    [InlineData(3, true, 0.5)]
    public void ATtlThatRunsOutOnTheWay_IsNamed_WithTheOneThatIsNeeded(int ttl, bool relayLast, double heard)
    {
        ComposedNetwork network = ComposedNetwork.Of(Scenario($$"""{"fault": "ttl-exhausted", "node": "panel", "ttl": {{ttl}}}""", seed: ttl, heard, relayLast));
        int lost = 0, named = 0;
        foreach ((EyeView view, string? cause) in Views(network))
        {
            if (cause is null)
            {
                Assert.NotEqual(EyeVerdict.Rejected, view.Verdict);
                continue;
            }
            Assert.Equal("ttl-too-low", cause);
            lost++;
            if (view is not { Verdict: EyeVerdict.Rejected, Step: ReceiveStep.Reach })
                continue;
            named++;
            Assert.Equal((ttl, view.Element.Value - 2), (view.TtlSent, view.TtlNeeded));     // lamp n has address n + 2 and is n hops away
        }
        output.WriteLine($"{named} of {lost} named");
        Assert.True(lost > 5 && named >= 0.95 * lost, $"{named} of {lost} named");
    }

    [Theory]
    [InlineData("", 1.0)]
    [InlineData("", 0.4)]
    [InlineData("""{"fault": "lamp-powered-off", "node": "lamp 3", "fromS": 30, "untilS": 90}""", 0.8)]
    [InlineData("""{"fault": "relay-not-forwarding", "node": "lamp 2"}""", 0.8)]
    [InlineData("""{"fault": "appkey-not-bound", "node": "lamp 3", "appKey": 0, "described": false}""", 0.8)]
    public void AnEnoughTtl_IsNeverAccused(string fault, double heard)
    {
        foreach ((EyeView view, _) in Views(ComposedNetwork.Of(Scenario(fault, seed: 5, heard))))
            Assert.False(view is { Verdict: EyeVerdict.Rejected, Step: ReceiveStep.Reach }, $"press {view.Press}, {view.Element}");
    }

    /// <summary>Nobody else presses, and no copy has a known sender: only that relays carry the lamps' own messages as far tells that they are well.</summary>
    [Theory]
    [InlineData(1.0)]
    [InlineData(0.5)]
    public void ATtlThatRunsOut_IsSeenByTheWayOfTheLampsOwnMessages(double heard)
    {
        ComposedNetwork network = ComposedNetwork.Of(Scenario("""{"fault": "ttl-exhausted", "node": "panel", "ttl": 2}""", seed: 3, heard, relayLast: true, rounds: 16, lamps: Changing, office: false));
        int lost = 0, named = 0;
        foreach ((EyeView view, string? cause) in Views(network))
        {
            bool accused = view is { Verdict: EyeVerdict.Rejected, Step: ReceiveStep.Reach };
            Assert.False(accused && cause is null, $"press {view.Press}, {view.Element}");
            if (cause is null || view.Element.Value - 2 < 3)
                continue;
            lost++;
            named += accused ? 1 : 0;
            Assert.False(view.OthersReach);
        }
        output.WriteLine($"{named} of {lost} named");
        Assert.True(lost > 10 && named >= 0.9 * lost, $"{named} of {lost} named");
        Assert.Contains(network.History.Findings, finding => finding.Id == "ttl-exhausted" && finding.Says.Contains("though relays carry what is sent from there 2 hops and more", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("", 4)]
    [InlineData("""{"fault": "lamp-powered-off", "node": "lamp 4", "fromS": 30, "untilS": 90}""", 4)]
    [InlineData("""{"fault": "lamp-powered-off", "node": "lamp 3", "fromS": 10, "untilS": 200}""", 5)]
    [InlineData("""{"fault": "relay-not-forwarding", "node": "lamp 2"}""", 5)]
    public void AnEnoughTtl_IsNotAccused_WhereNoSenderIsKnown(string fault, int ttl)
    {
        foreach (double heard in new[] { 1.0, 0.4 })
            foreach ((EyeView view, _) in Views(ComposedNetwork.Of(Scenario(fault, seed: 6, heard, relayLast: true, rounds: 16, lamps: Changing, office: false, panelTtl: ttl))))
                Assert.False(view is { Verdict: EyeVerdict.Rejected, Step: ReceiveStep.Reach }, $"press {view.Press}, {view.Element}");
    }

    private static IEnumerable<(EyeView View, string? Cause)> Views(ComposedNetwork network)
    {
        foreach (JsonElement press in network.Truth.GetProperty("presses").EnumerateArray())
        {
            int row = network.PressOf(press);
            if (row < 0)
                continue;
            foreach (MeshAddress element in ComposedNetwork.ActedOn(press))
                yield return (network.History.ReceiversEye(row, element), null);
            foreach ((MeshAddress element, string cause) in ComposedNetwork.LostBy(press))
                yield return (network.History.ReceiversEye(row, element), cause);
        }
    }
}
