using System.Text.Json;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using Xunit.Abstractions;

namespace MeshTrace.Analysis.Tests.ReceiversEye;

/// <summary>The receiver's eye against simulated networks of which it is known what every element did.</summary>
public sealed class EyeAgainstTruthTests(ITestOutputHelper output)
{
    // A reading room with the stairs behind it: each node hears its neighbours on the line only.
    internal static string Scenario(string faults, int seed = 1, double heard = 1.0, int presses = 12, string more = "") => $$$"""
        {
          "scenario": 1, "name": "reading-room", "says": "test", "seed": {{{seed}}}, "start": "2026-03-02T18:00:00Z", "lastsS": {{{(presses * 16) + 20}}},
          "building": {"exponent": 3.4, "fadingDb": 2, "shadowDb": 1},
          "network": {"name": "Library", "ivIndex": 4, "netKeys": [{"index": 0, "name": "Library"}], "appKeys": [{"index": 0, "name": "Lighting"}, {"index": 1, "name": "Staff"}],
            "groups": [{"name": "Reading room", "address": "C001"}, {"name": "Stairs", "address": "C002"}, {"name": "States", "address": "C0F0"}]},
          "nodes": [
            {"name": "panel", "place": [0, 0], "elements": [{"models": ["1001"], "publish": {"to": "Reading room"}}, {"models": ["1001"], "publish": {"to": "Stairs"}}]},
            {"name": "desk", "place": [3, 1], "defaultTtl": 6, "elements": [{"models": ["1001"], "publish": {"to": "Stairs"}}]},
            {"name": "lamp 1", "place": [8, 0], "relay": true, "elements": [{"models": ["1000"], "subscribe": ["Reading room"], "publish": {"to": "States"}}]},
            {"name": "lamp 2", "place": [24, 0], "relay": true, "elements": [{"models": ["1000"], "subscribe": ["Reading room", "Stairs"], "publish": {"to": "States"}}]},
            {"name": "lamp 3", "place": [40, 0], "relay": true, "elements": [{"models": ["1000"], "subscribe": ["Stairs"], "publish": {"to": "States"}}]},
            {"name": "lamp 4", "place": [56, 0], "elements": [{"models": ["1000"], "subscribe": ["Stairs"], "publish": {"to": "States"}}]}
          ],
          "receivers": [
            {"name": "near", "place": [10, 3], "channels": "three", "heardShare": {{{heard.ToString(System.Globalization.CultureInfo.InvariantCulture)}}}, "sensitivityDbm": -110},
            {"name": "far", "place": [45, 3], "channels": "three", "heardShare": {{{heard.ToString(System.Globalization.CultureInfo.InvariantCulture)}}}, "sensitivityDbm": -110}
          ],
          "schedule": [{{{string.Join(",\n", Enumerable.Range(0, presses).Select(Press))}}}{{{more}}}],
          "faults": [{{{faults}}}]
        }
        """;

    private static string Press(int number)
    {
        int at = 5 + (number * 16);
        string asks = number % 2 == 0 ? "on" : "off";
        return $$"""
            {"press": "panel", "atS": {{at}}, "asks": "{{asks}}", "element": 0, "acknowledged": true},
            {"press": "panel", "atS": {{at + 5}}, "asks": "{{asks}}", "element": 1, "acknowledged": true},
            {"press": "desk", "atS": {{at + 10}}, "asks": "{{asks}}", "element": 0, "acknowledged": true, "ttl": 6}
            """;
    }

    public static TheoryData<string, ReceiveStep> Faults => new()
    {
        { "", ReceiveStep.None },
        { """{"fault": "nobody-subscribed", "node": "lamp 3", "group": "C002"}""", ReceiveStep.Address },
        { """{"fault": "appkey-not-bound", "node": "lamp 2", "appKey": 0}""", ReceiveStep.Binding },
        { """{"fault": "appkey-missing", "node": "lamp 2", "appKey": 0}""", ReceiveStep.AppKey },
        { """{"fault": "sequence-went-backwards", "node": "panel", "atS": 100, "sequence": 0}""", ReceiveStep.ReplayProtection },
        { """{"fault": "replay-list-full", "node": "lamp 2", "size": 1}""", ReceiveStep.ReplayListSpace },
        { """{"fault": "appkey-not-bound", "node": "lamp 2", "appKey": 0, "described": false}""", ReceiveStep.None },
        { """{"fault": "address-claimed-twice", "node": "desk", "with": "panel"}""", ReceiveStep.ReplayProtection },
        { """{"fault": "ttl-exhausted", "node": "panel", "ttl": 2}""", ReceiveStep.None },     // not named here: only that nobody is wrongly accused
        { """{"fault": "relay-not-forwarding", "node": "lamp 2"}""", ReceiveStep.None },
        { """{"fault": "lamp-powered-off", "node": "lamp 3", "fromS": 60, "untilS": 120}""", ReceiveStep.None },
        { """{"fault": "answer-lost-on-way-back", "node": "lamp 2", "fromS": 30, "untilS": 120}""", ReceiveStep.None },
    };

    /// <summary>A wrong accusation is worse than none: who acted is never said to have rejected, however little was heard.</summary>
    [Theory, MemberData(nameof(Faults))]
    public void WhoActed_IsNeverAccused_AndTheStepThatRejectedIsNamed(string fault, ReceiveStep step)
    {
        int named = 0;
        foreach (double heard in new[] { 1.0, 0.15 })
        {
            ComposedNetwork network = ComposedNetwork.Of(Scenario(fault, heard: heard));
            foreach (JsonElement press in network.Truth.GetProperty("presses").EnumerateArray())
            {
                if (press.GetProperty("tid").ValueKind != JsonValueKind.Number || network.PressOf(press) is not (>= 0 and var row))
                    continue;
                foreach (MeshAddress element in ComposedNetwork.ActedOn(press))
                {
                    EyeView view = network.History.ReceiversEye(row, element);
                    if (view.Verdict == EyeVerdict.Rejected)
                        output.WriteLine($"heard {heard}: {element} acted on press {row}, but {view.Step} is said to reject ({view.Confidence})");
                    Assert.NotEqual(EyeVerdict.Rejected, view.Verdict);
                }
                foreach ((MeshAddress element, string why) in ComposedNetwork.LostBy(press))
                {
                    EyeView view = network.History.ReceiversEye(row, element);
                    output.WriteLine($"heard {heard}: {element} lost press {row} by {why}: {view.Verdict} {view.Step}");
                    if (view.Verdict == EyeVerdict.Rejected && view.Step == step)
                        named++;
                }
            }
        }
        Assert.True(step == ReceiveStep.None || named > 0, $"{step} was never named");
    }
}
