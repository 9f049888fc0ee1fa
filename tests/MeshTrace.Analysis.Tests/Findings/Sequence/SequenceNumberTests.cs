using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Findings.Sequence;

/// <summary>Sequence numbers that go back, jump, or run out, and all that looks like it and is not.</summary>
public sealed class SequenceNumberTests
{
    private const ushort Panel = 0x0003, Lamp = 0x0005;
    private const string On = "82020101", Off = "82020002";

    private static CaptureHistory Lines(params (double Second, uint Seq)[] pdus) => Lines(Panel, pdus).Analyse();

    private static AirBuilder Lines(ushort src, (double Second, uint Seq)[] pdus, AirBuilder? air = null)
    {
        air ??= new AirBuilder();
        foreach ((double second, uint seq) in pdus)
            air.Access(second * 1000, 5, seq, src, 0xC001, seq % 2 == 0 ? On : Off);
        return air;
    }

    [Fact]
    public void AStepBackThatCountsOn_IsCertain_AndSaysWhenItHeals()
    {
        Finding finding = Assert.Single(Lines((0, 5000), (10, 5001), (20, 5002), (30, 0), (40, 1), (50, 2), (60, 3)).Of("sequence-went-backwards"));
        Assert.Equal((Confidence.Certain, new MeshAddress(Panel), 30_000_000_000), (finding.Confidence, finding.Node!.Value, finding.TimeNs));
        Assert.Contains("5,002 to 0", finding.Says);
        Assert.Contains("360 numbers an hour", finding.Remedy);     // one in 10 s
        Assert.Contains("13.9 h", finding.Remedy);                  // 4999 numbers at that pace
        Assert.Equal(3, finding.Evidence.Count);
    }

    [Fact]
    public void OneNumberBack_OrTwoInMixedOrder_IsNoStepBack()
    {
        Assert.Empty(Lines((0, 5000), (10, 5001), (20, 100), (30, 5002), (40, 5003)).Of("sequence-went-backwards"));
        Assert.Empty(Lines((0, 5000), (1, 5010), (2, 4990), (3, 4991), (4, 5011)).Of("sequence-went-backwards"));       // less than 32 below
        Assert.Empty(Lines((0, 5000), (1, 5040), (2, 5003), (3, 5001), (4, 5041)).Of("sequence-went-backwards"));       // not rising
    }

    /// <summary>Two nodes with one address: told as such, never as a step back, wherever the capture begins and ends.</summary>
    [Theory]
    [InlineData(new uint[] { 5000, 5001, 10, 11, 5002, 5003, 12, 13 })]
    [InlineData(new uint[] { 10, 11, 5000, 5001, 12, 13, 14 })]
    [InlineData(new uint[] { 5000, 5001, 10, 11, 12, 5002 })]
    public void TwoAlternatingLines_AreNoStepBack_AndNoJump(uint[] numbers)
    {
        CaptureHistory history = Lines([.. numbers.Select((seq, at) => (at * 10.0, seq))]);
        Assert.Empty(history.Of("sequence-went-backwards"));
        Assert.Empty(history.Of("sequence-jumped"));
    }

    [Fact]
    public void LateCopiesFromARelay_AreNoSecondLine()
    {
        AirBuilder air = Lines(Panel, [(0, 200), (1, 201), (2, 202), (3, 260), (4, 261)]);
        for (uint seq = 203; seq < 206; seq++)
            air.Access(5_000 + seq, 4, seq, Panel, 0xC001, On, advertiser: 0xC0DE00000009);     // TTL 4: relayed, its original was missed
        Assert.Empty(air.Analyse().Of("sequence-went-backwards"));
    }

    [Fact]
    public void TheSamePdusHeardAgainMuchLater_AreNoStepBack()
    {
        (double, uint)[] once = [(0, 100), (1, 101), (2, 102)], later = [(3, 500), (4, 501), (60, 100), (61, 101), (62, 102)];
        Assert.Empty(Lines([.. once, .. later]).Of("sequence-went-backwards"));
    }

    [Fact]
    public void AnotherIvIndex_BeginsAtZero_AndIsNoStepBack()
    {
        AirBuilder old = Lines(Panel, [(0, 5000), (10, 5001), (20, 5002)]);
        var next = new AirBuilder(ivIndex: AirBuilder.IvIndex + 1);
        Lines(Panel, [(30, 0), (40, 1), (50, 2)], next);
        while (next.Frames.TryReadNext(out var frame))
            old.Frames.Add(frame.TimeNs, frame.Octets.ToArray(), frame.LinkType);
        CaptureHistory history = old.Analyse();
        Assert.Equal(6, history.Floods.Count);
        Assert.Empty(history.Of("sequence-went-backwards"));
    }

    /// <summary>Each element counts for itself: told once for the node that was started anew.</summary>
    [Theory]
    [InlineData(1.0)]
    [InlineData(0.5)]
    public void ASimulatedNodeSetBack_IsTold_AndItsHealthyTwinIsNot(double heard)
    {
        Building building = new() { Panels = 2, Lamps = 4, LengthM = 20, Presses = 40, PressEveryS = 3, HeardShare = heard, Channels = "hop" };
        string fault = """{"fault": "sequence-went-backwards", "node": "panel 1", "atS": 60, "sequence": 3}""";
        string high(string scenario) => scenario.Replace("{\"name\": \"panel 1\"", "{\"name\": \"panel 1\", \"sequence\": 7000", StringComparison.Ordinal);
        ComposedNetwork faulty = ComposedNetwork.Of(high((building with { Faults = fault }).ToScenario()));
        Finding finding = Assert.Single(faulty.History.Of("sequence-went-backwards"));
        Assert.Equal("panel 1", faulty.NameOf(finding.Node!.Value));
        Assert.Empty(ComposedNetwork.Of(high(building.ToScenario())).History.Of("sequence-went-backwards"));
    }

    [Fact]
    public void AJump_IsRemarked_ButNotWhenThereWasTimeForIt()
    {
        Finding finding = Assert.Single(Lines((0, 100), (10, 101), (12, 1101), (20, 1102)).Of("sequence-jumped"));
        Assert.Equal((Severity.Remark, 12_000_000_000), (finding.Severity, finding.TimeNs));
        Assert.Empty(Lines((0, 100), (10, 101), (40, 1101), (50, 1102)).Of("sequence-jumped"));     // 33 a second: the receiver may have missed them
        Assert.Empty(Lines((0, 100), (10, 101), (10.5, 200)).Of("sequence-jumped"));
    }

    [Fact]
    public void ThreeQuartersUsed_IsWarned_WithTheDayItEnds()
    {
        Finding finding = Assert.Single(Lines([.. Enumerable.Range(0, 101).Select(at => (at * 10.0, 0xC00001u + (uint)at))]).Of("sequence-running-out"));
        Assert.Equal(Confidence.Certain, finding.Confidence);
        Assert.Contains("360 numbers an hour", finding.Says);
        Assert.Contains("485 days", finding.Says);      // (0xFFFFFF - 0xC00065) / 0.1 a second
        Assert.Empty(Lines((0, 0xBFFFF0), (10, 0xBFFFF1)).Of("sequence-running-out"));
        Assert.Contains("too short", Assert.Single(Lines((0, 0xD00000), (10, 0xD00001)).Of("sequence-running-out")).Says);
    }

    [Fact]
    public void ManyNumbersUsed_AndTheNodeHasGoneOnToTheNextIvIndex_IsNoWarning()
    {
        AirBuilder old = Lines(Panel, [(0, 0xD00000), (10, 0xD00001)]);
        var next = new AirBuilder(ivIndex: AirBuilder.IvIndex + 1);
        Lines(Panel, [(30, 0), (40, 1)], next);
        Lines(Lamp, [(31, 0), (41, 1)], next);
        while (next.Frames.TryReadNext(out var frame))
            old.Frames.Add(frame.TimeNs, frame.Octets.ToArray(), frame.LinkType);
        Assert.Empty(old.Analyse().Of("sequence-running-out"));
    }
}
