using System.Text.Json.Nodes;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>The library of the demonstration: its entrance panel publishes to the stairs with TTL 2, which are three hops away.</summary>
public sealed class TtlExhaustedTests
{
    [Fact]
    public void TheTtlUsed_TheHopsNeeded_AndTheTtlToSet_AreNamed()
    {
        ComposedNetwork network = ComposedNetwork.Of(Library(_ => { }));
        Finding finding = Assert.Single(FindingNetwork.Of(network, "ttl-exhausted"));
        Assert.Equal(("entrance panel", 3), (network.NameOf(finding.Node!.Value), finding.Presses.Count));
        Assert.Contains("with TTL 2", finding.Says, StringComparison.Ordinal);
        Assert.Contains("3 hops", finding.Says, StringComparison.Ordinal);
        Assert.Contains("to 5", finding.Remedy, StringComparison.Ordinal);
        Assert.DoesNotContain(FindingNetwork.Of(network, "press-unanswered"), other => other.Presses.Intersect(finding.Presses).Any());
    }

    [Fact]
    public void WithTtl5_ItIsSilent() =>
        Assert.Empty(FindingNetwork.Of(ComposedNetwork.Of(Library(scenario => scenario["faults"]!.AsArray().RemoveAt(0))), "ttl-exhausted"));

    [Fact]
    public void HalfHeard_NobodyElseIsNamed()
    {
        ComposedNetwork network = ComposedNetwork.Of(Library(scenario => scenario["receivers"]![0]!["heardShare"] = 0.4));
        Assert.All(FindingNetwork.Of(network, "ttl-exhausted"), finding => Assert.Equal("entrance panel", network.NameOf(finding.Node!.Value)));
    }

    private static string Library(Action<JsonNode> change)
    {
        JsonNode scenario = JsonNode.Parse(File.ReadAllText(Path.Combine(FindingsDocument.Repository(), "captures-demo", "library.scenario.json")))!;
        change(scenario);
        return scenario.ToJsonString();
    }
}
