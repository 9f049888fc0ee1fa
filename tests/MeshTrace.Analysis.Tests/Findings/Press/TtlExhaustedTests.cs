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

    /// <summary>
    /// No relay can be told from another here: the panel at 0x0003 sends with TTL 2, the last hop is heard, and the lamp at 0x0010 hardly ever answers it,
    /// while it answers 0x0009, who sends with TTL 6.
    /// </summary>
    [Theory]
    [InlineData(1, true, true)]         // one answer came by a lucky way
    [InlineData(0, true, true)]
    [InlineData(10, true, false)]       // every second one: the way is there
    [InlineData(0, false, false)]       // it answers nobody: something else is wrong with it
    public void APanelThatComesThroughSeldom_WhileOthersWithMoreTtlDo_IsNamed(int answers, bool answersOthers, bool found)
    {
        var air = new AirBuilder();
        uint seq = 500;
        for (int press = 0; press < 20; press++)
        {
            air.Access(press * 10_000, 2, (uint)(100 + press), 0x0003, 0x0010, $"8202{press % 2:x2}{press:x2}");
            air.Access((press * 10_000) + 20, 1, (uint)(100 + press), 0x0003, 0x0010, $"8202{press % 2:x2}{press:x2}", advertiser: 0xD1000000ul + (ulong)press);
            if (answers > 0 && press % (20 / answers) == 0)
                air.Access((press * 10_000) + 90, 5, seq++, 0x0010, 0x0003, $"8204{press % 2:x2}");
            air.Access((press * 10_000) + 5_000, 6, (uint)(900 + press), 0x0009, 0x0010, $"8202{press % 2:x2}{press:x2}");
            if (answersOthers)
                air.Access((press * 10_000) + 5_090, 5, seq++, 0x0010, 0x0009, $"8204{press % 2:x2}");
            air.Access((press * 10_000) + 8_000, 5, seq++, 0x0010, 0xC0F0, "8201");
        }
        Finding[] findings = [.. air.Analyse().Findings.Where(finding => finding.Id == "ttl-exhausted")];
        Assert.Equal(found, findings.Length == 1);
        Assert.All(findings, finding => Assert.Equal((Confidence.Possible, (ushort)0x0003), (finding.Confidence, finding.Node!.Value.Value)));
    }

    private static string Library(Action<JsonNode> change)
    {
        JsonNode scenario = JsonNode.Parse(File.ReadAllText(Path.Combine(FindingsDocument.Repository(), "captures-demo", "library.scenario.json")))!;
        change(scenario);
        return scenario.ToJsonString();
    }
}
