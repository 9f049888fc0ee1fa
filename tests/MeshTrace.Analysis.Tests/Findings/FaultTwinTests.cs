using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;
using Xunit.Abstractions;

namespace MeshTrace.Analysis.Tests.Findings;

/// <summary>Faults of settings, of the air and of the capture in a reading room: each is told, the same room without it is silent, and half heard nobody else is named.</summary>
public sealed class FaultTwinTests(ITestOutputHelper output)
{
    private const string WallPanel = """, {"name": "wall panel", "unicast": "0050", "place": [3, 3], "elements": [{"models": ["1001"], "publish": {"to": "0030"} }] }""";

    /// <summary>Finding, the fault, the node that it must name (null: none), and whether half of the packets must do.</summary>
    public static TheoryData<string, string, string?, bool> Faults => new()
    {
        { "model-not-on-element", """{"fault": "model-not-on-element", "node": "lamp", "model": "1000"}""", "lamp", true },
        { "panel-not-publishing", """{"fault": "panel-not-publishing", "node": "wall panel"}""", "wall panel", true },
        { "unknown-network", """{"fault": "unknown-network", "place": [5, 3], "count": 2}""", null, true },
        { "channel-crowded", """{"fault": "channel-crowded", "place": [5, 3], "fromS": 40, "untilS": 90, "count": 40, "intervalMs": 20}""", null, false },
        { "capture-one-channel", """{"fault": "capture-one-channel", "receiver": "desk", "channel": 37}""", null, true },
        { "capture-follows-one-device", """{"fault": "capture-follows-one-device", "receiver": "desk", "node": "panel"}""", null, false },
        { "capture-too-thin", """{"fault": "capture-too-thin", "receiver": "desk", "share": 0.04}""", null, false },
    };

    [Theory, MemberData(nameof(Faults))]
    public void AFault_IsTold(string id, string fault, string? node, bool halfHeard)
    {
        Check(id, node, fault, 1, true);
        Check(id, node, fault, 0.5, halfHeard);
    }

    [Theory, MemberData(nameof(Faults))]
    public void ItsHealthyTwin_IsSilent(string id, string fault, string? node, bool halfHeard)
    {
        Assert.NotEmpty(fault);
        Assert.True(node is null || halfHeard);
        foreach (double heard in new[] { 1, 0.5, 0.3 })
            Assert.Empty(FindingNetwork.Of(Play("", heard), id));
    }

    private void Check(string id, string? node, string fault, double heard, bool mustFind)
    {
        ComposedNetwork network = Play(fault, heard);
        foreach (Finding finding in network.History.Findings)
            output.WriteLine($"{heard}: {finding.Id} {finding.Confidence} {finding.Node} {finding.Says}");
        Finding[] found = [.. FindingNetwork.Of(network, id)];
        if (mustFind)
            Assert.NotEmpty(found);
        if (node is not null)
            Assert.All(found, finding => Assert.Equal(node, network.NameOf(finding.Node!.Value)));
    }

    private static ComposedNetwork Play(string fault, double heard) => ComposedNetwork.Of(new ReadingRoom
    {
        LastsS = 130, HeardShare = heard, Nodes = WallPanel, Faults = fault,
        Schedule = string.Join(", ", Enumerable.Range(0, 56).Select(press =>
            $$"""{"press": "{{(press % 2 == 0 ? "panel" : "wall panel")}}", "atS": {{5 + (press * 2)}}, "asks": "{{(press % 4 < 2 ? "on" : "off")}}", "acknowledged": true}""")),
    }.ToScenario());
}
