using MeshTrace.Protocol.Access;
using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Tests.Nodes;

/// <summary>A new node is brought to its plan by configuration messages; each reads in the catalogue as what it is called.</summary>
public class ConfigurationTests
{
    private const string Label = "0073e7e4d8b9440faf8415df4c56c0e1";   // invented

    private static readonly (string, string)[] NewLamp =
    [
        ("\"sequence\": 500,", "\"sequence\": 500, \"configured\": false,"),
        ("{\"name\": \"Slipway\", \"address\": \"C002\"}", $"{{\"name\": \"Slipway\", \"label\": \"{Label}\"}}"),
        ("\"subscribe\": [\"Jetty\"]",
            "\"subscribe\": [\"Jetty\", \"Slipway\"], \"publish\": {\"to\": \"Slipway\", \"ttl\": 4, \"retransmitCount\": 2, \"retransmitIntervalMs\": 150}"),
        ("\"schedule\": [",
            "\"schedule\": [{\"atS\": 2, \"configure\": \"lamp\", \"by\": \"panel\"}, {\"atS\": 25, \"press\": \"panel\", \"asks\": \"off\", \"to\": \"Slipway\"},"),
    ];

    [Fact]
    public void NewLamp_ActsOnceItIsConfigured_AlsoForAVirtualAddress()
    {
        var composed = Composed.Of(Chain.With(NewLamp));
        Assert.Equal("complete", composed.Truth.GetProperty("configurations")[0].GetProperty("outcome").GetString());
        Assert.Equal("not-subscribed", composed.CauseOf(0));
        Assert.Equal("acted", composed.CauseOf(1));
        Assert.StartsWith("0x", composed.Presses.Last().GetProperty("dst").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public void EachStep_ReadsAsItsName()
    {
        Scenario scenario = ScenarioReader.Read(System.Text.Encoding.UTF8.GetBytes(Chain.With(NewLamp)), "chain");
        NodePlan lamp = scenario.NodeNamed("lamp")!, relay = scenario.NodeNamed("relay a")!;
        var steps = ConfigurationSteps.Names.SelectMany(name =>
            ConfigurationSteps.Of(name, lamp, scenario.Network).Concat(ConfigurationSteps.Of(name, relay, scenario.Network))).ToList();
        Assert.Contains(steps, step => step.Name == "Config Model Subscription Virtual Address Add");
        Assert.Contains(steps, step => step.Name == "Config Model Publication Virtual Address Set");
        Assert.Contains(steps, step => step.Name == "Config Relay Set");
        Assert.All(steps, step =>
        {
            DecodedMessage message = AccessReader.Read(step.Payload);
            Assert.False(message.Problem.IsProblem, step.Name);
            Assert.Equal(step.Name, message.Definition!.Name);
        });
        DecodedMessage publication =
            AccessReader.Read(steps.First(step => step.Name == "Config Model Publication Virtual Address Set").Payload);
        Assert.Equal([4, 2, 2], new[] { publication["PublishTTL"]!.Number, publication["PublishRetransmitCount"]!.Number,
            publication["PublishRetransmitIntervalSteps"]!.Number });
        Assert.Equal(Label, Convert.ToHexStringLower(publication["LabelUUID"]!.Octets.Span));
    }
}
