using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>A client asks a group of ten lamps, 0x0010 to 0x0019, for acknowledgment.</summary>
public sealed class AnswersCollideTests
{
    private readonly AirBuilder _air = new();
    private uint _seq = 100;

    [Fact]
    public void ManyAnswersAtOnce_AndTheRequestRepeated()
    {
        for (int press = 0; press < 4; press++)
        {
            Ask(press, 0);
            Answers(press, 10);
            Ask(press, 1000);
        }
        Finding finding = Assert.Single(Examine());
        Assert.Equal((Confidence.Likely, 4), (finding.Confidence, finding.Presses.Count));
    }

    [Fact]
    public void ManyAnswers_AndNothingLost_IsToldAsPossible_AndCostsNoPress()
    {
        for (int press = 0; press < 4; press++)
        {
            Ask(press, 0);
            Answers(press, 10);
        }
        Finding finding = Assert.Single(Examine());
        Assert.Equal((Confidence.Possible, 0), (finding.Confidence, finding.Presses.Count));
    }

    [Fact]
    public void FewAnswers_AreNoCrowd()
    {
        for (int press = 0; press < 4; press++)
        {
            Ask(press, 0);
            Answers(press, 7);
            Ask(press, 1000);
        }
        Assert.Empty(Examine());
    }

    private void Ask(int press, int ms) => _air.Access((press * 10_000) + ms, 5, _seq++, 0x0003, 0xC001, $"8202{press % 2:x2}{press:x2}");

    private void Answers(int press, int lamps)
    {
        for (int lamp = 0; lamp < lamps; lamp++)
            _air.Access((press * 10_000) + 40 + (lamp * 30), 5, (uint)(700 + press), (ushort)(0x0010 + lamp), 0x0003, $"8204{press % 2:x2}");
    }

    private Finding[] Examine() => _air.Analyse().Findings.Where(finding => finding.Id == "answers-collide").ToArray();
}
