using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using Xunit.Abstractions;

namespace MeshTrace.Analysis.Tests.Findings;

/// <summary>
/// Simulated networks with one fault each, heard well and heard badly. What should be found is what the fault is named after; whom a finding names must
/// be the node at fault, and a lamp that acted is never said to have been silent.
/// </summary>
public sealed class FaultedNetworkTests(ITestOutputHelper output)
{
    /// <summary>Finding, the fault, and the node that it must name (null: any).</summary>
    public static TheoryData<string, string, string?> Faults => new()
    {
        { "appkey-not-bound", """{"fault": "appkey-missing", "node": "lamp 2", "appKey": 0}""", "lamp 2" },
        { "appkey-not-bound", """{"fault": "appkey-not-bound", "node": "lamp 2", "appKey": 0}""", "lamp 2" },
        { "appkey-of-other-subnet", """{"fault": "appkey-of-other-subnet", "node": "panel", "appKey": 0, "netKey": 1}""", "panel" },
        { "nobody-subscribed", """{"fault": "nobody-subscribed", "node": "lamp 2"}, {"fault": "nobody-subscribed", "node": "lamp 3"}, {"fault": "nobody-subscribed", "node": "lamp 4"}""", null },
        { "panel-not-publishing", """{"fault": "panel-not-publishing", "node": "desk"}""", "desk" },
        { "some-lamps-silent", """{"fault": "press-unanswered", "node": "lamp 2", "fromS": 30, "untilS": 120}""", "lamp 2" },
        { "some-lamps-silent", """{"fault": "some-lamps-silent", "node": "lamp 3", "fromS": 0, "untilS": 170, "share": 0.5}""", "lamp 3" },
        { "some-lamps-silent", """{"fault": "lamp-powered-off", "node": "lamp 1", "fromS": 60, "untilS": 120}""", "lamp 1" },
        { "press-unanswered", """{"fault": "lamp-powered-off", "node": "lamp 1", "fromS": 60, "untilS": 120}, {"fault": "lamp-powered-off", "node": "lamp 2", "fromS": 60, "untilS": 120}""", null },
        { "relay-not-forwarding", """{"fault": "relay-not-forwarding", "node": "lamp 2"}""", "lamp 2" },
        { "relayed-again", """{"fault": "relayed-again", "node": "lamp 2", "cacheSize": 1}""", "lamp 2" },
        { "sent-once-only", """{"fault": "sent-once-only", "node": "panel"}""", "panel" },
        { "sent-once-only", """{"fault": "sent-once-only", "node": "panel", "described": false}""", "panel" },
        { "address-claimed-twice", """{"fault": "address-claimed-twice", "node": "desk", "with": "panel"}""", "panel" },
        { "address-reused-too-soon", """{"fault": "address-reused-too-soon", "node": "desk"}""", "desk" },
        { "unknown-network", """{"fault": "unknown-network", "place": [10, 2], "count": 2}""", null },
        { "channel-crowded", """{"fault": "channel-crowded", "place": [10, 2], "fromS": 40, "untilS": 90, "count": 40, "intervalMs": 20}""", null },
        { "capture-one-channel", """{"fault": "capture-one-channel", "receiver": "near", "channel": 37}, {"fault": "capture-one-channel", "receiver": "far", "channel": 37}""", null },
        { "capture-follows-one-device", """{"fault": "capture-follows-one-device", "receiver": "near", "node": "panel"}, {"fault": "capture-follows-one-device", "receiver": "far", "node": "panel"}""", null },
        { "no-relay-on-path", """{"fault": "no-relay-on-path"}""", null },
    };

    [Theory, MemberData(nameof(Faults))]
    public void AFault_IsFound_AndItsNodeNamed(string id, string fault, string? node)
    {
        ComposedNetwork network = new FindingNetwork { Faults = fault }.Compose();
        Tell(network);
        Finding[] found = [.. FindingNetwork.Of(network, id)];
        Assert.NotEmpty(found);
        if (node is not null)
            Assert.All(found, finding => Assert.Equal(node, network.NameOf(finding.Node!.Value)));
    }

    /// <summary>Heard badly, a fault may go unfound; but nobody else may be named, and no lamp that acted on a press be called silent on it.</summary>
    [Theory, MemberData(nameof(Faults))]
    public void AFaultHalfHeard_AccusesNobodyElse(string id, string fault, string? node)
    {
        foreach (double heard in new[] { 0.5, 0.2 })
        {
            ComposedNetwork network = new FindingNetwork { Faults = fault, Heard = heard, Seed = 3 }.Compose();
            Tell(network);
            if (node is not null)
                Assert.All(FindingNetwork.Of(network, id), finding => Assert.Equal(node, network.NameOf(finding.Node!.Value)));
            NobodyWhoActedIsCalledSilent(network);
        }
    }

    [Theory]
    [InlineData(1, 1.0), InlineData(2, 0.8), InlineData(3, 0.6), InlineData(4, 0.4), InlineData(5, 0.25), InlineData(6, 0.1)]
    public void AHealthyNetwork_IsNotAccused(int seed, double heard)
    {
        ComposedNetwork network = new FindingNetwork { Seed = seed, Heard = heard }.Compose();
        Tell(network);
        Assert.DoesNotContain(network.History.Findings, finding => finding.Severity != Severity.Remark && finding.Id != "capture-too-thin"
            && !(finding.Id is "press-unanswered" or "some-lamps-silent" or "repeats-too-close"));
        NobodyWhoActedIsCalledSilent(network);      // a press may really be lost
    }

    private static void NobodyWhoActedIsCalledSilent(ComposedNetwork network)
    {
        foreach (System.Text.Json.JsonElement press in network.Truth.GetProperty("presses").EnumerateArray())
        {
            if (press.GetProperty("tid").ValueKind != System.Text.Json.JsonValueKind.Number || network.PressOf(press) is not (>= 0 and var row))
                continue;
            HashSet<MeshAddress> acted = [.. ComposedNetwork.ActedOn(press)];
            foreach (int at in network.History.Presses[row].Findings)
            {
                Finding finding = network.History.Findings[at];
                if (finding.Id is "press-unanswered")
                    Assert.False(acted.Count > 0 && acted.Count == press.GetProperty("meant").GetArrayLength(), $"press {row} was acted on: {finding.Says}");
                if (finding.Id is "some-lamps-silent" && finding.Node is { } node)
                    Assert.DoesNotContain(acted, element => network.History.Directory.NodeOf(element) == node);
            }
        }
    }

    private void Tell(ComposedNetwork network)
    {
        foreach (Finding finding in network.History.Findings)
            output.WriteLine($"{finding.Id} {finding.Confidence} {finding.Node} [{string.Join(' ', finding.Presses)}] {finding.Says}");
    }
}
