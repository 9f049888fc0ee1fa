using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>What silence is worth: a lamp at 0x0010 that is asked, acknowledged, by 0x0003 every 10 s.</summary>
public sealed class SilenceTests
{
    private readonly AirBuilder _air = new();
    private uint _seq = 100, _lampSeq = 500;

    [Fact]
    public void NumbersThatRunOnOverTheSilence_ProveIt()
    {
        Run(30, silentAt: 12, numbersLost: 0);
        CaptureHistory history = _air.Analyse();
        Finding finding = Assert.Single(history.Findings, finding => finding.Id == "press-unanswered");
        Assert.Equal(Confidence.Likely, finding.Confidence);
        Assert.Equal([12], finding.Presses);
        Assert.Contains("sequence numbers", finding.Says, StringComparison.Ordinal);
        Assert.Equal([history.Findings.ToList().IndexOf(finding)], history.Presses[12].Findings);
    }

    [Fact]
    public void ANumberSkippedOverTheSilence_MayBeTheAnswer()
    {
        Run(30, silentAt: 12, numbersLost: 1);
        Assert.DoesNotContain(_air.Analyse().Findings, finding => finding.Id == "press-unanswered");
    }

    [Fact]
    public void EverythingAnswered_IsNoFinding()
    {
        Run(30, silentAt: -1, numbersLost: 0);
        Assert.DoesNotContain(_air.Analyse().Findings, finding => finding.Severity != Severity.Remark && finding.Id != "sent-once-only");      // each PDU is on the air once here
    }

    /// <summary>A Status with another value than asked for: the lamp has limits of its own, and is no silent one.</summary>
    [Fact]
    public void AStatusWithAnotherValue_IsAnAnswer()
    {
        Run(30, silentAt: 12, numbersLost: 0, otherValue: true);
        Assert.DoesNotContain(_air.Analyse().Findings, finding => finding.Id == "press-unanswered");
    }

    /// <summary>
    /// Of one request only a copy of the relay at 0x0005 was heard, and that late: its queue was full. The lamp had answered long before, and that answer
    /// fits no press.
    /// </summary>
    [Fact]
    public void AnAnswerHeardLongBeforeTheOnlyCopyOfItsRequest_IsAnAnswer()
    {
        for (int press = 0; press < 30; press++)
        {
            if (press != 12)
                Ask(press);
            _air.Access((press * 10_000) + (press == 12 ? 960 : 15), 4, press == 12 ? _seq++ : _seq - 1, 0x0003, 0x0010, $"8202{press % 2:x2}{press:x2}", advertiser: 0xC0DE00000005);
            Answer(press, 0);
            _air.Access((press * 10_000) + 5_000, 5, (uint)(900 + press), 0x0005, 0xC0F0, "820401");
            _air.Access((press * 10_000) + 6_000, 5, (uint)(900 + press), 0x0009, 0xC0F0, "820401");
        }
        Assert.DoesNotContain(_air.Analyse().Findings, finding => finding.Id == "press-unanswered");
    }

    /// <summary>The first request of a press was missed and its answer heard; of the second request, a second later, it is the other way round.</summary>
    [Theory, InlineData(0, false), InlineData(1, true)]
    public void AnAnswerToARequestThatWasMissed_IsAnAnswer(int other, bool found)
    {
        for (int press = 0; press < 30; press++)
        {
            if (press == 12)
            {
                _seq++;
                _air.Access((press * 10_000) - 940, 5, _lampSeq++, 0x0010, 0x0003, $"8204{(press + other) % 2:x2}");
            }
            Ask(press);
            if (press != 12)
                Answer(press, 0);
        }
        Assert.Equal(found, _air.Analyse().Findings.Any(finding => finding.Id == "press-unanswered"));
    }

    /// <summary>
    /// A badly heard lamp stays silent on ten presses in a row. It used one number in that time that nobody heard, so nine answers at least were never sent;
    /// with a number for each press it may have answered them all.
    /// </summary>
    [Theory]
    [InlineData(1u, true), InlineData(10u, false)]
    public void NumbersOverARowOfPresses_TellThatFewCanHaveBeenAnswered(uint unheard, bool found)
    {
        for (int press = 0; press < 40; press++)
        {
            Ask(press);
            if (press is < 20 or >= 30)
                Answer(press, press % 2 == 0 ? 1u : 0);
            else if (press == 25)
                _lampSeq += unheard;
        }
        Finding[] findings = [.. _air.Analyse().Findings.Where(finding => finding.Id == "press-unanswered" && finding.Presses.Count >= 10)];
        Assert.Equal(found, findings.Length == 1);
    }

    /// <summary>The end of the capture cuts an answer off: that says nothing.</summary>
    [Fact]
    public void ThePressAtTheEndOfTheCapture_IsNotJudged()
    {
        Run(30, silentAt: 29, numbersLost: 0);
        Assert.DoesNotContain(_air.Analyse().Findings, finding => finding.Id == "press-unanswered");
    }

    [Fact]
    public void ALampOfWhichOneNumberInTwoIsHeard_IsNotAccused_AndTheCaptureIsCalledThin()
    {
        for (int press = 0; press < 20; press++)
        {
            Ask(press);
            if (press < 14)
                Answer(press, skip: 1);     // behind, it is silent for good: no number tells
        }
        CaptureHistory history = _air.Analyse();
        Assert.DoesNotContain(history.Findings, finding => finding.Id == "press-unanswered" && finding.Confidence == Confidence.Likely && finding.Presses.Count == 1);
        Run(1, -1, 0);
    }

    /// <summary>Against the binomial tail, summed term by term.</summary>
    [Theory]
    [InlineData(3, 10, 0.1), InlineData(8, 10, 0.5), InlineData(10, 10, 0.3), InlineData(20, 60, 0.2)]
    public void TheChanceOfSoManySilences_IsTheTail(int silent, int owed, double missChance)
    {
        double tail = 0;
        for (int k = silent; k <= owed; k++)
            tail += Choose(owed, k) * Math.Pow(missChance, k) * Math.Pow(1 - missChance, owed - k);
        Assert.Equal(tail, SilenceChance.OfSoMany(silent, owed, missChance), tail * 1e-9);

        static double Choose(int n, int k) => k == 0 ? 1 : Choose(n, k - 1) * (n - k + 1) / k;
    }

    [Theory]
    [InlineData(0.049, Confidence.Likely), InlineData(0.05, Confidence.Possible), InlineData(0.29, Confidence.Possible), InlineData(0.30, null), InlineData(1.0, null)]
    public void AChanceOfHavingMissedIt_DecidesHowSureAFindingIs(double chance, Confidence? confidence) => Assert.Equal(confidence, Weighing.Of(chance));

    private void Run(int presses, int silentAt, uint numbersLost, bool otherValue = false)
    {
        for (int press = 0; press < presses; press++)
        {
            Ask(press);
            if (press != silentAt)
                Answer(press, 0);
            else if (otherValue)
                _air.Access((press * 10_000) + 60, 5, _lampSeq++, 0x0010, 0x0003, $"8204{1 - (press % 2):x2}");
            else
                _lampSeq += numbersLost;
        }
    }

    private void Ask(int press) => _air.Access(press * 10_000, 5, _seq++, 0x0003, 0x0010, $"8202{press % 2:x2}{press:x2}");

    private void Answer(int press, uint skip)
    {
        _air.Access((press * 10_000) + 60, 5, _lampSeq, 0x0010, 0x0003, $"8204{press % 2:x2}");
        _lampSeq += 1 + skip;
    }
}
