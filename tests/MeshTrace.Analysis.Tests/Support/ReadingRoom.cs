namespace MeshTrace.Analysis.Tests.Support;

/// <summary>
/// A reading room for the simulation: a tablet that sets up, a panel, a relay and two lamps within reach of each other, one receiver on three channels.
/// What a test wants to see goes into its open places.
/// </summary>
internal sealed record ReadingRoom
{
    public int Seed { get; init; } = 5;
    public double LastsS { get; init; } = 60;
    public string Truth { get; init; } = "full";
    public double HeardShare { get; init; } = 1;

    /// <summary>Members of single nodes, each with a comma before it.</summary>
    public string Tablet { get; init; } = "";
    public string Panel { get; init; } = "";
    public string Relay { get; init; } = "";
    public string Lamp { get; init; } = "";
    public string OtherLamp { get; init; } = "";

    /// <summary>Further objects of the lists.</summary>
    public string Nodes { get; init; } = "";
    public string Schedule { get; init; } = "";
    public string Faults { get; init; } = "";
    public string Receiver { get; init; } = "";
    public string Description { get; init; } = "{}";

    public string ToScenario() => FormattableString.Invariant($$$"""
        {"scenario": 1, "name": "reading-room", "seed": {{{Seed}}}, "start": "2026-03-02T18:00:00Z", "lastsS": {{{LastsS}}}, "truth": "{{{Truth}}}",
         "building": {"exponent": 2.2, "fadingDb": 2, "shadowDb": 1},
         "network": {"name": "Library", "ivIndex": 4, "netKeys": [{"index": 0, "name": "Library"}], "appKeys": [{"index": 0, "name": "Lighting"}],
           "groups": [{"name": "Reading room", "address": "C001"}, {"name": "States", "address": "C0F0"}]},
         "nodes": [
           {"name": "tablet", "unicast": "0001", "place": [0, 0], "elements": [{"models": ["0001"]}] {{{Tablet}}} },
           {"name": "panel", "unicast": "0010", "place": [4, 0], "elements": [{"models": ["1001"], "publish": {"to": "Reading room"} }] {{{Panel}}} },
           {"name": "relay", "unicast": "0020", "place": [6, 3], "relay": true, "elements": [{"models": ["1100"]}] {{{Relay}}} },
           {"name": "lamp", "unicast": "0030", "place": [9, 1], "elements": [{"models": ["1000"], "subscribe": ["Reading room"]}] {{{Lamp}}} },
           {"name": "other lamp", "unicast": "0040", "place": [10, 4], "elements": [{"models": ["1000"], "subscribe": ["Reading room"]}] {{{OtherLamp}}} }
           {{{Nodes}}}
         ],
         "receivers": [{"name": "desk", "place": [5, 2], "linkType": 256, "channels": "three", "heardShare": {{{HeardShare}}} {{{Receiver}}} }],
         "schedule": [{{{Schedule}}}],
         "faults": [{{{Faults}}}],
         "description": {{{Description}}} }
        """);
}
