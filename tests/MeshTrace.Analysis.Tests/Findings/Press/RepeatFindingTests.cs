using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Findings.Rules.Presses;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>A panel at 0x0003 that transmits each PDU so often and so close, and a lamp at 0x0010 that misses one press in five.</summary>
public sealed class RepeatFindingTests
{
    [Theory]
    [InlineData(14, true, true)]        // an interval of 10 ms with its random 0-10 ms
    [InlineData(14, false, false)]      // as close, but nothing is lost
    [InlineData(55, true, false)]
    public void RepeatsThatAreTooClose_AreToldOnlyWherePressesAreLost(double apartMs, bool loses, bool found)
    {
        Finding[] findings = Play(3, apartMs, loses, 40);
        Assert.Equal(found, findings.Any(finding => finding.Id == "repeats-too-close"));
        Assert.Equal(loses, findings.Any(finding => finding.Id == "press-unanswered"));
        Assert.DoesNotContain(findings, finding => finding.Id == "sent-once-only" && finding.Node!.Value.Value == 0x0003);
    }

    [Fact]
    public void APanelThatSendsOnce_IsToldFromManyPdus_NotFromFew()
    {
        Assert.Contains(Play(1, 0, false, 40), finding => finding.Id == "sent-once-only" && finding.Node?.Value == 0x0003);
        Assert.DoesNotContain(Play(1, 0, false, 8), finding => finding.Id == "sent-once-only");
        Assert.DoesNotContain(Play(2, 30, false, 40), finding => finding.Id == "sent-once-only" && finding.Node?.Value == 0x0003);
    }

    /// <summary>With two transmissions of which each is heard with the chance p, a PDU heard at all is heard once with 2(1-p)/(2-p): binomial.</summary>
    [Fact]
    public void HearingLittle_TwoTransmissionsLookLikeOne()
    {
        Assert.True(SentOnceOnly.ChanceTwoLookLikeOne(40, 40) < 0.001);
        Assert.True(SentOnceOnly.ChanceTwoLookLikeOne(12, 120) > 0.3);
    }

    private static Finding[] Play(int transmissions, double apartMs, bool loses, int presses)
    {
        var air = new AirBuilder();
        uint lampSeq = 500;
        for (int press = 0; press < presses; press++)
        {
            for (int sent = 0; sent < transmissions; sent++)
                for (int channel = 37; channel < 40; channel++)
                    air.Access((press * 10_000) + (sent * apartMs) + ((channel - 37) * 0.6), 5, (uint)(100 + press), 0x0003, 0x0010, $"8202{press % 2:x2}{press:x2}", channel: channel);
            if (loses && press % 5 == 4)
                continue;
            for (int sent = 0; sent < 3; sent++)
                air.Access((press * 10_000) + 400 + (sent * 35), 5, lampSeq, 0x0010, 0x0003, $"8204{press % 2:x2}");
            lampSeq++;
        }
        return [.. air.Analyse().Findings];
    }
}
