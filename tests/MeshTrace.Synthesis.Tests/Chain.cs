namespace MeshTrace.Synthesis.Tests;

/// <summary>
/// A chain of a panel, two relays and a lamp in a boathouse, so far apart that each hears its neighbours only; one receiver hears all four
/// on three channels. No fading, no noise: what happens follows from the rules alone.
/// </summary>
internal static class Chain
{
    /// <summary>Replaces parts of the text: each pair is what stands there and what shall stand there.</summary>
    public static string With(params (string Old, string New)[] changes)
    {
        string json = Json;
        foreach (var (old, with) in changes)
        {
            Assert.Contains(old, json, StringComparison.Ordinal);
            json = json.Replace(old, with, StringComparison.Ordinal);
        }
        return json;
    }

    /// <summary>The chain with one fault.</summary>
    public static string WithFault(string fault, params (string Old, string New)[] changes) =>
        With([("\"faults\": []", $"\"faults\": [{fault}]"), .. changes]);

    public const string Json = """
        {
          "scenario": 1, "name": "chain", "seed": 11, "start": "2026-04-18T09:00:00Z", "lastsS": 30,
          "building": {"exponent": 2.4, "fadingDb": 0, "shadowDb": 0},
          "network": {"name": "Boathouse", "ivIndex": 6, "netKeys": [{"index": 0, "name": "Boathouse"}], "appKeys": [{"index": 0, "name": "Lamps"}, {"index": 1, "name": "Spare"}],
            "groups": [{"name": "Jetty", "address": "C001"}, {"name": "Slipway", "address": "C002"}]},
          "nodes": [
            {"name": "panel", "place": [0, 0], "unicast": "0001", "sequence": 100, "defaultTtl": 5, "elements": [{"models": ["1001", "0001"], "publish": {"to": "Jetty"}}]},
            {"name": "relay a", "place": [1000, 0], "unicast": "0010", "relay": true, "elements": [{"models": ["1100"]}]},
            {"name": "relay b", "place": [2000, 0], "unicast": "0020", "relay": true, "elements": [{"models": ["1100"]}]},
            {"name": "lamp", "place": [3000, 0], "unicast": "0030", "sequence": 500, "elements": [{"models": ["1000", "1002", "1300", "1203"], "subscribe": ["Jetty"]}]}
          ],
          "links": [
            {"from": "panel", "to": "relay a", "rssiDbm": -60}, {"from": "relay a", "to": "relay b", "rssiDbm": -60}, {"from": "relay b", "to": "lamp", "rssiDbm": -60},
            {"from": "panel", "to": "receiver", "rssiDbm": -50}, {"from": "relay a", "to": "receiver", "rssiDbm": -60},
            {"from": "relay b", "to": "receiver", "rssiDbm": -70}, {"from": "lamp", "to": "receiver", "rssiDbm": -80}
          ],
          "receivers": [{"name": "receiver", "place": [0, 5000], "linkType": 256, "channels": "three"}],
          "schedule": [{"atS": 1, "press": "panel", "asks": "on", "acknowledged": true}],
          "faults": []
        }
        """;
}
