using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Joining;

/// <summary>Provisionings that fail, stop or crawl, and devices that joined and do not know it: simulated, with healthy twins and half heard.</summary>
public sealed class JoiningFindingTests
{
    private static readonly string[] All = ["provisioning-failed", "provisioning-repeats", "still-unprovisioned"];

    private static ComposedNetwork Network(string faults, double heard = 1, int seed = 5, double lastsS = 130) => ComposedNetwork.Of(new ReadingRoom
    {
        LastsS = lastsS, Faults = faults, HeardShare = heard, Seed = seed,
        Schedule = """
            {"atS": 5, "provision": "lamp", "by": "tablet"}, {"atS": 40, "configure": "lamp", "by": "tablet", "steps": ["composition", "app-keys", "bind", "subscribe"]},
            {"atS": 60, "press": "panel", "asks": "on", "acknowledged": true}
            """,
    }.ToScenario());

    [Theory]
    [InlineData("confirmation", Confidence.Certain, "Confirmation Failed")]
    [InlineData("timeout", Confidence.Certain, "Timeout")]
    [InlineData("stops", Confidence.Likely, "nothing further heard")]
    public void AProvisioningThatFails_IsTold_WithItsReason(string how, Confidence confidence, string reason)
    {
        ComposedNetwork network = Network($$"""{"fault": "provisioning-failed", "node": "lamp", "how": "{{how}}"}""");
        Finding finding = Assert.Single(network.History.Of("provisioning-failed"));
        Assert.Equal(confidence, finding.Confidence);
        Assert.Contains(reason, finding.Says);
        Assert.Empty(network.History.Of("still-unprovisioned"));
    }

    [Fact]
    public void ATransactionSentAgainAndAgain_IsTold()
    {
        CaptureHistory history = Network("""{"fault": "provisioning-repeats", "node": "lamp"}""").History;
        Finding finding = Assert.Single(history.Of("provisioning-repeats"));
        Assert.Contains("acknowledgment was heard", finding.Says);
        Assert.Empty(history.Of("provisioning-failed"));
    }

    [Fact]
    public void BeaconsAfterJoining_AreRemarked()
    {
        CaptureHistory history = Network("""{"fault": "still-unprovisioned", "node": "lamp"}""").History;
        Assert.Equal(0x0030, Assert.Single(history.Of("still-unprovisioned")).Node!.Value.Value);
        Assert.Empty(history.Of("provisioning-failed"));
    }

    /// <summary>At this share its Complete and the Link Open are not both heard; as a node it speaks, and the description has its UUID.</summary>
    [Theory]
    [InlineData(6)]
    [InlineData(8)]
    public void BeaconsOfADeviceThatSpeaksAsANode_AreRemarked_ThoughItsJoiningWasMissed(int seed)
    {
        CaptureHistory history = Network("""{"fault": "still-unprovisioned", "node": "lamp"}""", 0.2, seed).History;
        Finding finding = Assert.Single(history.Of("still-unprovisioned"));
        Assert.Equal(0x0030, finding.Node!.Value.Value);
        Assert.All(history.Provisionings, link => Assert.False(link is { Outcome: ProvisioningOutcome.Complete, DeviceUuid: not null }));
    }

    /// <summary>One of its two ends has stopped: told only where the rest would have been heard.</summary>
    [Theory]
    [InlineData(0.7, 5)]
    [InlineData(0.7, 6)]
    public void ASilentEnd_IsTold_WhereTheRestWouldHaveBeenHeard(double heard, int seed) =>
        Assert.Single(Network("""{"fault": "provisioning-failed", "node": "lamp", "how": "stops"}""", heard, seed).History.Of("provisioning-failed"));

    [Theory]
    [InlineData(1.0, 5)]
    [InlineData(0.7, 6)]
    [InlineData(0.4, 7)]
    [InlineData(0.4, 8)]
    [InlineData(0.2, 9)]
    [InlineData(0.2, 10)]
    [InlineData(0.12, 11)]
    [InlineData(0.12, 12)]
    [InlineData(0.08, 13)]
    [InlineData(0.08, 14)]
    public void AProvisioningThatWentWell_GivesNoFinding(double heard, int seed)
    {
        CaptureHistory history = Network("", heard, seed).History;
        Assert.NotEmpty(history.Provisionings);
        Assert.All(All, id => Assert.Empty(history.Of(id)));
    }

    [Theory]
    [InlineData("""{"fault": "provisioning-failed", "node": "lamp", "how": "confirmation"}""", "provisioning-failed")]
    [InlineData("""{"fault": "provisioning-failed", "node": "lamp", "how": "stops"}""", "provisioning-failed")]
    [InlineData("""{"fault": "still-unprovisioned", "node": "lamp"}""", "still-unprovisioned")]
    public void AFaultHalfHeard_IsNotMistaken(string fault, string id)
    {
        foreach (int seed in new[] { 5, 6, 7 })
            Assert.All(All.Where(other => other != id), other => Assert.Empty(Network(fault, 0.4, seed).History.Of(other)));
    }

    /// <summary>The capture ends before the minute is over: it may have gone on.</summary>
    [Fact]
    public void ASilentEndOfTheCapture_IsNoFailure()
    {
        Assert.Empty(Network("""{"fault": "provisioning-failed", "node": "lamp", "how": "stops"}""", lastsS: 50).History.Of("provisioning-failed"));
    }

    /// <summary>A reset sends it back to beaconing, and so it should.</summary>
    [Fact]
    public void ANodeThatWasResetAfterwards_MayBeaconAgain()
    {
        CaptureHistory history = ComposedNetwork.Of(new ReadingRoom
        {
            LastsS = 100, Schedule = """{"atS": 5, "provision": "lamp", "by": "tablet"}, {"atS": 30, "configure": "lamp", "by": "tablet", "steps": ["composition", "reset"]}""",
        }.ToScenario()).History;
        Assert.Empty(history.Of("still-unprovisioned"));
    }
}
