using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>What somebody is told to do about presses without an answer fits what is known of the reason.</summary>
public sealed class UnansweredRemedyTests
{
    [Fact]
    public void ARejectionHasItsOwnRemedy()
    {
        Finding finding = Assert.Single(Play("""{"fault": "sequence-went-backwards", "node": "panel", "atS": 60, "sequence": 0}"""), finding => finding.Id == "press-unanswered");
        Assert.Contains("for a replay", finding.Says, StringComparison.Ordinal);
        Assert.StartsWith("Make the sender keep its sequence number when it restarts", finding.Remedy, StringComparison.Ordinal);
    }

    /// <summary>One moment of disturbance silences all lamps at once, and they answer before and after: nobody has to look at their power.</summary>
    [Fact]
    public void AllAtOnce_ForOnePress_IsNotThePowerOfEach()
    {
        const string both = """{"fault": "press-unanswered", "node": "lamp", "fromS": 59, "untilS": 63.5}, {"fault": "press-unanswered", "node": "other lamp", "fromS": 59, "untilS": 63.5}""";
        Finding finding = Assert.Single(Play(both), finding => finding.Id == "press-unanswered");
        Assert.Single(finding.Presses);
        Assert.Contains("all of them answered presses before and after it", finding.Says, StringComparison.Ordinal);
        Assert.StartsWith("Find out what else was on the air at that moment", finding.Remedy, StringComparison.Ordinal);
    }

    /// <summary>Nothing known rejects, and no other element shares the silence: what is left is power and the way.</summary>
    [Fact]
    public void WithoutAKnownReason_PowerAndTheWayAreLeft()
    {
        const string off = """{"fault": "lamp-powered-off", "node": "lamp", "fromS": 50, "untilS": 120}, {"fault": "lamp-powered-off", "node": "other lamp", "fromS": 50, "untilS": 120}""";
        Finding finding = Assert.Single(Play(off), finding => finding.Id == "press-unanswered");
        Assert.StartsWith("Look at its power, at range and relays", finding.Remedy, StringComparison.Ordinal);
    }

    private static IReadOnlyList<Finding> Play(string faults) => ComposedNetwork.Of(new ReadingRoom
    {
        LastsS = 130, Faults = faults,
        Schedule = string.Join(", ", Enumerable.Range(0, 24).Select(press => $$"""{"press": "panel", "atS": {{5 + (press * 5)}}, "asks": "{{(press % 2 == 0 ? "on" : "off")}}", "acknowledged": true}""")),
    }.ToScenario()).History.Findings;
}
