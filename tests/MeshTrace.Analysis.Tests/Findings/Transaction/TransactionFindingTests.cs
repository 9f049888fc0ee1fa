using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Transaction;

/// <summary>Transaction numbers used twice, repetitions that count as new, and states told twice.</summary>
public sealed class TransactionFindingTests
{
    private const ushort Panel = 0x0003;
    private const string On = "820301", Off = "820300", Level = "820A";

    private static CaptureHistory Say(params (double Ms, string Payload)[] requests)
    {
        var air = new AirBuilder();
        uint seq = 100;
        foreach ((double ms, string payload) in requests)
            air.Access(ms, 5, seq++, Panel, 0xC001, payload);
        return air.Analyse();
    }

    [Fact]
    public void AnotherValueUnderTheSameNumber_IsTold_OnceForThePanel()
    {
        CaptureHistory history = Say((0, On + "07"), (2000, Off + "07"), (9000, On + "08"), (10_000, Off + "08"));
        Finding finding = Assert.Single(history.Of("transaction-number-reused"));
        Assert.Equal(2, finding.Presses.Count);
        Assert.Contains("2 s after", finding.Says);
        Assert.All(finding.Presses, press => Assert.Contains(0, history.Presses[press].Findings));
    }

    [Fact]
    public void ARetryOfTheSameValue_ALaterReuse_OrADimmersGrowingStep_IsNoReuse()
    {
        Assert.Empty(Say((0, On + "07"), (1000, On + "07"), (3000, On + "07")).Of("transaction-number-reused"));
        Assert.Empty(Say((0, On + "07"), (6500, Off + "07")).Of("transaction-number-reused"));
        Assert.Empty(Say((0, On + "07"), (1000, Off + "08")).Of("transaction-number-reused"));
        Assert.Empty(Say((0, Level + "0001000007"), (200, Level + "0002000007"), (400, Level + "0003000007")).Of("transaction-number-reused"));
    }

    /// <summary>The fault in a simulated network, its healthy twin, and half heard.</summary>
    [Theory]
    [InlineData(1.0)]
    [InlineData(0.5)]
    public void ASimulatedPanelThatKeepsItsNumber_IsTold_AndItsTwinIsNot(double heard)
    {
        Building building = new() { Panels = 2, Lamps = 4, LengthM = 20, Presses = 30, PressEveryS = 2, HeardShare = heard };
        ComposedNetwork faulty = ComposedNetwork.Of((building with { Faults = """{"fault": "transaction-number-reused", "node": "panel 1"}""" }).ToScenario());
        Finding finding = Assert.Single(faulty.History.Of("transaction-number-reused"));
        Assert.Equal("panel 1", faulty.NameOf(finding.Node!.Value));
        Assert.Empty(ComposedNetwork.Of(building.ToScenario()).History.Of("transaction-number-reused"));
    }

    [Fact]
    public void EvenRepetitionsWithNewNumbers_AreAMachines()
    {
        Finding finding = Assert.Single(Say((0, On + "07"), (200, On + "08"), (400, On + "09"), (20_000, Off + "0A"), (20_199, Off + "0B"), (20_401, Off + "0C")).Of("repeat-counted-as-new"));
        Assert.Equal((Confidence.Likely, 6), (finding.Confidence, finding.Presses.Count));
        Assert.Contains("3 times, 200 ms apart", finding.Says);
        Assert.Equal(Confidence.Possible, Assert.Single(Say((0, On + "07"), (200, On + "08"), (401, On + "09")).Of("repeat-counted-as-new")).Confidence);
    }

    [Fact]
    public void AQuickHand_AHeldDimmer_OrOneRepetition_IsNone()
    {
        Assert.Empty(Say((0, On + "07"), (250, On + "08"), (430, On + "09")).Of("repeat-counted-as-new"));
        Assert.Empty(Say((0, On + "07"), (200, On + "08")).Of("repeat-counted-as-new"));
        Assert.Empty(Say((0, On + "07"), (200, Off + "08"), (400, On + "09"), (600, Off + "0A")).Of("repeat-counted-as-new"));
        (double, string)[] held = [.. Enumerable.Range(0, 20).Select(at => (at * 100.0, Level + "00010000" + at.ToString("X2")))];
        Assert.Empty(Say(held).Of("repeat-counted-as-new"));
    }

    [Fact]
    public void TransactionNumbersWrapAround()
    {
        Assert.Single(Say((0, On + "FE"), (200, On + "FF"), (400, On + "00")).Of("repeat-counted-as-new"));
    }

    [Theory]
    [InlineData(1.0, "three")]
    [InlineData(1.0, "hop")]
    [InlineData(0.6, "three")]
    public void ASimulatedPanelThatRepeatsAsNew_IsTold_AndItsTwinIsNot(double heard, string channels)
    {
        Building building = new() { Panels = 1, Lamps = 4, LengthM = 20, Presses = 25, HeardShare = heard, Channels = channels };
        ComposedNetwork faulty = ComposedNetwork.Of((building with { Faults = """{"fault": "repeat-counted-as-new", "node": "panel 1"}""" }).ToScenario());
        Finding finding = Assert.Single(faulty.History.Of("repeat-counted-as-new"));
        Assert.Equal("panel 1", faulty.NameOf(finding.Node!.Value));
        Assert.Empty(ComposedNetwork.Of(building.ToScenario()).History.Of("repeat-counted-as-new"));
    }

    [Theory]
    [InlineData("panel", true)]         // published to the requester itself
    [InlineData("States", false)]       // published to a group that the requester does not listen to
    public void AStateToldTwiceToTheRequester_IsRemarked(string to, bool told)
    {
        string presses = string.Join(", ", Enumerable.Range(0, 6).Select(press => $$"""{"atS": {{5 + (press * 8)}}, "press": "panel", "asks": "{{(press % 2 == 0 ? "on" : "off")}}", "acknowledged": true}"""));
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom { Schedule = presses, Faults = $$"""{"fault": "doubled-status", "node": "lamp", "to": "{{to}}"}""" }.ToScenario());
        Assert.Equal(told ? ["lamp"] : [], network.History.Of("doubled-status").Select(finding => network.NameOf(finding.Node!.Value)));
    }

    [Fact]
    public void AnswersToARetriedRequest_AreNotDoubled()
    {
        string presses = string.Join(", ", Enumerable.Range(0, 6).Select(press => $$"""{"atS": {{5 + (press * 8)}}, "press": "panel", "asks": "{{(press % 2 == 0 ? "on" : "off")}}", "acknowledged": true, "retryS": 0.3}"""));
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom { Schedule = presses, Faults = """{"fault": "answer-lost-on-way-back", "node": "lamp", "fromS": 0, "untilS": 60}""" }.ToScenario());
        Assert.Empty(network.History.Of("doubled-status"));
    }
}
