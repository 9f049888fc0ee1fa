using System.Globalization;
using System.Text;

namespace MeshTrace.Analysis.Tests.Support;

/// <summary>An invented network of any size for the simulation: panels and lamps along a library, some of which relay. The same seed gives the same network.</summary>
internal sealed record Building
{
    public int Lamps { get; init; } = 12;
    public int Panels { get; init; } = 3;

    /// <summary>Every n-th lamp relays.</summary>
    public int RelayEvery { get; init; } = 3;
    public int Seed { get; init; } = 1;
    public double HeardShare { get; init; } = 1;

    /// <summary>"three", "hop", or one channel.</summary>
    public string Channels { get; init; } = "three";

    /// <summary>Advertiser addresses of all nodes: static, public, rotating, each.</summary>
    public string Address { get; init; } = "static";
    public int RotationS { get; init; } = 60;
    public int Presses { get; init; } = 30;
    public double PressEveryS { get; init; } = 6;
    public double LengthM { get; init; } = 60;

    /// <summary>Place of the receiver along the library, 0 to 1.</summary>
    public double ReceiverAt { get; init; } = 0.4;
    public int SensitivityDbm { get; init; } = -97;

    /// <summary>Default TTLs: each node has one of these.</summary>
    public int[] Ttls { get; init; } = [5];

    /// <summary>Objects of the scenario's lists, members of its receiver.</summary>
    public string Faults { get; init; } = "";
    public string MoreReceiver { get; init; } = "";
    public string MoreSchedule { get; init; } = "";
    public string Noise { get; init; } = """{"kind": "tag", "place": [10, 4], "count": 3, "intervalMs": 1000}""";

    /// <summary>The three lists of settings that nodes take theirs from, one after the other.</summary>
    public (int Transmissions, int IntervalMs)[] NetworkTransmits { get; init; } = [(3, 20), (2, 30), (4, 10), (3, 50)];
    public (int Transmissions, int IntervalMs)[] RelayRetransmits { get; init; } = [(2, 20), (3, 10), (3, 30)];

    public string ToScenario()
    {
        var random = new Random(Seed);
        var nodes = new List<string>();
        for (int panel = 0; panel < Panels; panel++)
            nodes.Add(Node(nodes.Count, $"panel {panel + 1}", random, null, random.NextDouble(),
                $$"""{"models": ["1001"], "publish": {"to": "{{(panel % 2 == 0 ? "Reading room" : "Stairs")}}"} }"""));
        for (int lamp = 0; lamp < Lamps; lamp++)
            nodes.Add(Node(nodes.Count, $"lamp {lamp + 1}", random, lamp % RelayEvery == 0, (lamp + 0.5) / Lamps,
                $$"""{"models": ["1000"], "subscribe": ["{{(lamp % 2 == 0 ? "Reading room" : "Stairs")}}"], "publish": {"to": "States"} }"""));
        var schedule = new List<string>();
        for (int press = 0; press < Presses; press++)
            schedule.Add(Invariant($$"""
                {"press": "panel {{random.Next(Panels) + 1}}", "atS": {{3 + (press * PressEveryS) + random.NextDouble():F2}}, "asks": "{{(press % 2 == 0 ? "on" : "off")}}", "acknowledged": {{(random.Next(2) == 0 ? "true" : "false")}} }
                """));
        if (MoreSchedule.Length > 0)
            schedule.Add(MoreSchedule);
        string channels = int.TryParse(Channels, CultureInfo.InvariantCulture, out _) ? Channels : '"' + Channels + '"';
        return Invariant($$"""
            {"scenario": 1, "name": "building", "says": "test", "seed": {{Seed}}, "start": "2026-03-02T18:00:00Z", "lastsS": {{(int)(Presses * PressEveryS) + 15}},
             "building": {"exponent": 2.9, "fadingDb": 3, "shadowDb": 2},
             "network": {"name": "Library", "ivIndex": 4, "netKeys": [{"index": 0, "name": "Library"}], "appKeys": [{"index": 0, "name": "Lighting"}],
               "groups": [{"name": "Reading room", "address": "C001"}, {"name": "Stairs", "address": "C002"}, {"name": "States", "address": "C0F0"}]},
             "nodes": [{{string.Join(",\n", nodes)}}],
             "receivers": [{"name": "desk", "place": [{{LengthM * ReceiverAt:F1}}, 5], "linkType": 256, "channels": {{channels}}, "heardShare": {{HeardShare:F2}},
               "sensitivityDbm": {{SensitivityDbm}}{{MoreReceiver}} }],
             "noise": [{{Noise}}],
             "schedule": [{{string.Join(",\n", schedule)}}],
             "faults": [{{Faults}}]}
            """);
    }

    private string Node(int number, string name, Random random, bool? relay, double along, string element)
    {
        (int transmissions, int intervalMs) = NetworkTransmits[number % NetworkTransmits.Length];
        (int relayed, int relayIntervalMs) = RelayRetransmits[number % RelayRetransmits.Length];
        var text = new StringBuilder(Invariant($$"""
            {"name": "{{name}}", "place": [{{along * LengthM:F1}}, {{random.NextDouble() * 10:F1}}], "address": "{{Address}}", "rotationS": {{RotationS}}, "elements": [{{element}}],
             "networkTransmit": {"transmissions": {{transmissions}}, "intervalMs": {{intervalMs}} }, "relayRetransmit": {"transmissions": {{relayed}}, "intervalMs": {{relayIntervalMs}} },
             "defaultTtl": {{Ttls[random.Next(Ttls.Length)]}}
            """));
        if (relay is { } relays)
            text.Append(relays ? """, "relay": true""" : """, "relay": false""");
        return text.Append('}').ToString();
    }

    private static string Invariant(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
