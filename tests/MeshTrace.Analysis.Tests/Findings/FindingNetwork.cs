using System.Globalization;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings;

/// <summary>A reading room with the stairs behind it, as the simulation plays it: two panels, a desk and lamps on a line, of which three relay.</summary>
internal sealed record FindingNetwork
{
    public string Faults { get; init; } = "";
    public int Seed { get; init; } = 1;
    public double Heard { get; init; } = 1;
    public int Rounds { get; init; } = 10;
    public string More { get; init; } = "";
    public string Lamp4 { get; init; } = "";
    public string Receiver { get; init; } = "";

    /// <summary>Lamps beside lamp 1 that subscribe to the reading room.</summary>
    public int MoreLamps { get; init; }

    public ComposedNetwork Compose() => ComposedNetwork.Of(ToScenario());

    public static IEnumerable<Finding> Of(ComposedNetwork network, string id) => network.History.Findings.Where(finding => finding.Id == id);

    private string ToScenario()
    {
        string heard = Heard.ToString(CultureInfo.InvariantCulture);
        string lamps = string.Concat(Enumerable.Range(0, MoreLamps).Select(lamp => $$"""
            , {"name": "shelf lamp {{lamp + 1}}", "place": [{{4 + (lamp % 4)}}, {{2 + (lamp / 4)}}], "elements": [{"models": ["1000"], "subscribe": ["Reading room"], "publish": {"to": "States"} } ] }
            """));
        return $$$"""
            {
              "scenario": 1, "name": "reading-room", "says": "test", "seed": {{{Seed}}}, "start": "2026-03-02T18:00:00Z", "lastsS": {{{(Rounds * 16) + 20}}},
              "building": {"exponent": 3.4, "fadingDb": 2, "shadowDb": 1},
              "network": {"name": "Library", "ivIndex": 4, "netKeys": [{"index": 0, "name": "Library"}, {"index": 1, "name": "Staff"}],
                "appKeys": [{"index": 0, "name": "Lighting"}, {"index": 1, "name": "Desk"}],
                "groups": [{"name": "Reading room", "address": "C001"}, {"name": "Stairs", "address": "C002"}, {"name": "States", "address": "C0F0"}]},
              "nodes": [
                {"name": "panel", "place": [0, 0], "netKeys": [0, 1], "elements": [{"models": ["1001"], "publish": {"to": "Reading room"}}, {"models": ["1001"], "publish": {"to": "Stairs"}}]},
                {"name": "desk", "place": [3, 1], "defaultTtl": 6, "elements": [{"models": ["1001"], "publish": {"to": "Stairs"}}]},
                {"name": "lamp 1", "place": [8, 0], "relay": true, "elements": [{"models": ["1000"], "subscribe": ["Reading room"], "publish": {"to": "States"}}]},
                {"name": "lamp 2", "place": [24, 0], "relay": true, "elements": [{"models": ["1000"], "subscribe": ["Reading room", "Stairs"], "publish": {"to": "States"}}]},
                {"name": "lamp 3", "place": [40, 0], "relay": true, "elements": [{"models": ["1000"], "subscribe": ["Stairs"], "publish": {"to": "States"}}]},
                {"name": "lamp 4", "place": [56, 0], {{{Lamp4}}} "elements": [{"models": ["1000"], "subscribe": ["Stairs"], "publish": {"to": "States"}}]}{{{lamps}}}
              ],
              "receivers": [
                {"name": "near", "place": [10, 3], "channels": "three", "heardShare": {{{heard}}}, "sensitivityDbm": -110 {{{Receiver}}} },
                {"name": "far", "place": [45, 3], "channels": "three", "heardShare": {{{heard}}}, "sensitivityDbm": -110 {{{Receiver}}} }
              ],
              "schedule": [{{{string.Join(",\n", Enumerable.Range(0, Rounds).Select(Round))}}}{{{More}}}],
              "faults": [{{{Faults}}}]
            }
            """;
    }

    private static string Round(int number)
    {
        int at = 5 + (number * 16);
        string asks = number % 2 == 0 ? "on" : "off";
        return $$"""
            {"press": "panel", "atS": {{at}}, "asks": "{{asks}}", "element": 0, "acknowledged": true},
            {"press": "panel", "atS": {{at + 5}}, "asks": "{{asks}}", "element": 1, "acknowledged": true},
            {"press": "desk", "atS": {{at + 10}}, "asks": "{{asks}}", "element": 0, "acknowledged": true, "ttl": 6}
            """;
    }
}
