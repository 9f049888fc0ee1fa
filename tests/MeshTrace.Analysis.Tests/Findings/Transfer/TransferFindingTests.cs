using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Transfer;

/// <summary>Findings about segmented transfers, against simulated ones: the fault, its healthy twin, and half heard.</summary>
public sealed class TransferFindingTests
{
    private static readonly string[] All =
        ["transfer-given-up", "acknowledgment-not-arriving", "transfer-refused", "reassembly-timed-out", "transfer-slow", "transfer-to-group"];

    private static ComposedNetwork Network(string faults, string sar = "1.0", double heard = 1, int seed = 1, int octets = 60)
    {
        string transfers = string.Join(",\n", Enumerable.Range(0, 6).Select(number => $$"""{"atS": {{5 + (number * 25)}}, "transfer": "panel 1", "to": "lamp 1", "octets": {{octets}} }"""));
        string scenario = new Building { Panels = 1, Lamps = 4, LengthM = 20, Presses = 28, HeardShare = heard, Seed = seed, MoreSchedule = transfers, Faults = faults }.ToScenario();
        return ComposedNetwork.Of(scenario.Replace("\"rotationS\"", $"\"sar\": \"{sar}\", \"rotationS\"", StringComparison.Ordinal));
    }

    public static TheoryData<string, string, string, string> Faults => new()
    {
        { "transfer-given-up", """{"fault": "transfer-given-up", "node": "lamp 1", "fromS": 0, "untilS": 400}""", "lamp 1", "1.0" },
        { "transfer-given-up", """{"fault": "transfer-given-up", "node": "lamp 1", "fromS": 0, "untilS": 400}""", "lamp 1", "1.1" },
        { "transfer-given-up", """{"fault": "transfer-given-up", "node": "lamp 1", "segment": 3, "fromS": 0, "untilS": 400}""", "lamp 1", "1.1" },
        { "acknowledgment-not-arriving", """{"fault": "acknowledgment-not-arriving", "node": "lamp 1", "fromS": 0, "untilS": 400}""", "lamp 1", "1.0" },
        { "acknowledgment-not-arriving", """{"fault": "acknowledgment-not-arriving", "node": "lamp 1", "fromS": 0, "untilS": 400}""", "lamp 1", "1.1" },
        { "transfer-refused", """{"fault": "transfer-refused", "node": "lamp 1"}""", "lamp 1", "1.0" },
        { "reassembly-timed-out", """{"fault": "reassembly-timed-out", "node": "panel 1"}""", "panel 1", "1.0" },
        { "reassembly-timed-out", """{"fault": "reassembly-timed-out", "node": "panel 1"}""", "panel 1", "1.1" },
        { "transfer-slow", """{"fault": "transfer-slow", "node": "panel 1"}""", "panel 1", "1.0" },
        { "transfer-slow", """{"fault": "transfer-slow", "node": "panel 1"}""", "panel 1", "1.1" },
        { "transfer-to-group", """{"fault": "transfer-to-group", "node": "panel 1", "group": "Stairs"}""", "panel 1", "1.1" },
    };

    [Theory]
    [MemberData(nameof(Faults))]
    public void TheFault_IsTold_OfItsNode_AndNothingElseIs(string id, string fault, string node, string sar)
    {
        ComposedNetwork network = Network(fault, sar);
        Finding finding = Assert.Single(network.History.Of(id));
        Assert.Equal(node, network.NameOf(finding.Node!.Value));
        Assert.True(finding.Confidence >= Confidence.Likely, finding.Says);
        Assert.Equal(6, finding.Evidence.Count(evidence => evidence.Record == "transfer"));
        Assert.All(All.Where(other => other != id), other => Assert.Empty(network.History.Of(other)));
    }

    /// <summary>Nothing at all was heard of the receiver; that the sender always stops after the same number of rounds makes it possible, no more.</summary>
    [Fact]
    public void AReceiverNeverHeard_GivesNoMoreThanPossible()
    {
        string quiet = """{"fault": "lamp-powered-off", "node": "lamp 1", "fromS": 0, "untilS": 400}""";
        Assert.Equal(Confidence.Possible, Assert.Single(Network(quiet, "1.1").History.Of("transfer-given-up")).Confidence);
        Assert.All(Network(quiet, "1.1", heard: 0.4).History.Of("transfer-given-up"), finding => Assert.Equal(Confidence.Possible, finding.Confidence));
    }

    /// <summary>Half heard, the fault is told or not told, but nobody is accused of another one.</summary>
    [Theory]
    [MemberData(nameof(Faults))]
    public void TheFault_HalfHeard_IsNotMistaken(string id, string fault, string node, string sar)
    {
        foreach (double heard in new[] { 0.6, 0.4 })
        {
            ComposedNetwork network = Network(fault, sar, heard, seed: (int)(heard * 10));
            Assert.All(network.History.Of(id), finding => Assert.Equal(node, network.NameOf(finding.Node!.Value)));
            Assert.All(All.Where(other => other != id), other => Assert.Empty(network.History.Of(other)));
        }
    }

    [Theory]
    [InlineData("1.0", 1.0, 1)]
    [InlineData("1.1", 1.0, 2)]
    [InlineData("1.0", 0.4, 3)]
    [InlineData("1.1", 0.4, 4)]
    [InlineData("1.1", 0.15, 5)]
    [InlineData("1.0", 0.25, 6)]
    public void TransfersThatWentWell_GiveNoFinding(string sar, double heard, int seed)
    {
        CaptureHistory history = Network("", sar, heard, seed, octets: 100).History;
        Assert.NotEmpty(history.Transfers);
        Assert.All(All, id => Assert.Empty(history.Of(id)));
    }

    /// <summary>The receivers were deaf while the acknowledgments may have come: nothing is said.</summary>
    [Fact]
    public void WithDeafReceivers_NoTransferIsGivenUp()
    {
        CaptureHistory history = Network("""{"fault": "receiver-deaf", "receiver": "desk", "fromS": 31, "untilS": 40}, {"fault": "receiver-deaf", "receiver": "desk", "fromS": 56, "untilS": 70}""").History;
        Assert.All(All, id => Assert.Empty(history.Of(id)));
    }

    private const string Payload40 = "c1ffff000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f2021222324";

    /// <summary>A sender that repeats everything until the block is full, as some do, gets its acknowledgments.</summary>
    [Fact]
    public void AllSegmentsRepeated_ThenFullyAcknowledged_IsNoFinding()
    {
        var air = new AirBuilder();
        List<byte[]> segments = air.Segments(Payload40, 100, 0x0003, 0x0005);
        uint seq = 100;
        for (int round = 0; round < 3; round++)
        {
            for (int segO = 0; segO < segments.Count; segO++)
                air.Network((round * 1500) + (segO * 60), false, 5, seq++, 0x0003, 0x0005, segments[segO]);
            air.Acknowledge((round * 1500) + 700, 7 + (uint)round, 0x0005, 0x0003, 100, round < 2 ? 0b0101u : 0b1111);
        }
        air.Access(20_000, 5, 200, 0x0003, 0xC001, "82020101");
        Assert.All(All, id => Assert.Empty(air.Analyse().Of(id)));
    }

    [Fact]
    public void RefusedFirst_TakenAfterwards_IsNoFinding()
    {
        var air = new AirBuilder();
        List<byte[]> segments = air.Segments(Payload40, 100, 0x0003, 0x0005);
        for (int segO = 0; segO < segments.Count; segO++)
            air.Network(segO * 60, false, 5, 100 + (uint)segO, 0x0003, 0x0005, segments[segO]);
        air.Acknowledge(700, 7, 0x0005, 0x0003, 100, 0);
        air.Acknowledge(900, 8, 0x0005, 0x0003, 100, 0b1111);
        air.Access(20_000, 5, 200, 0x0003, 0xC001, "82020101");
        Assert.Empty(air.Analyse().Of("transfer-refused"));
    }
}
