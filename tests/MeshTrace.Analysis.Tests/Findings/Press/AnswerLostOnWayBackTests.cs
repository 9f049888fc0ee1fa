using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>A client at 0x0003 asks a lamp at 0x0010 to switch on, acknowledged.</summary>
public sealed class AnswerLostOnWayBackTests
{
    private readonly AirBuilder _air = new();
    private uint _seq = 100, _lampSeq = 500;

    [Fact]
    public void AskedAgainAfterTheAnswer()
    {
        Ask(0);
        Answer(60);
        Ask(1000);
        Answer(1060);
        Finding finding = Assert.Single(Examine());
        Assert.Equal((Confidence.Likely, (ushort)0x0010), (finding.Confidence, finding.Node!.Value.Value));
        Assert.Equal([0], finding.Presses);
    }

    [Fact]
    public void AskedOnce_OrAgainBeforeTheAnswer_IsNoFinding()
    {
        Ask(0);
        Answer(60);
        Assert.Empty(Examine());
        var late = new AnswerLostOnWayBackTests();
        late.Ask(0);
        late.Ask(1000);
        late.Answer(1060);
        Assert.Empty(late.Examine());
    }

    [Fact]
    public void RepeatsWhileTheAnswerIsStillOnItsWay_AreNoFinding()
    {
        Ask(0);
        Answer(60);
        Ask(200);       // less than 0.2 s behind its last copy
        Assert.Empty(Examine());
    }

    /// <summary>A client that repeats every press, answered or not, has the habit: that its answers are lost each time is merely possible.</summary>
    [Fact]
    public void AClientThatAlwaysAsksTwice_IsToldAsPossible()
    {
        for (int press = 0; press < 6; press++)
        {
            Ask(press * 10_000, (byte)press);
            Answer((press * 10_000) + 60);
            Ask((press * 10_000) + 1000, (byte)press);
            Answer((press * 10_000) + 1060);
        }
        Assert.Equal(Confidence.Possible, Assert.Single(Examine()).Confidence);
    }

    private void Ask(double ms, byte tid = 7) => _air.Access(ms, 5, _seq++, 0x0003, 0x0010, $"820201{tid:x2}");

    private void Answer(double ms) => _air.Access(ms, 5, _lampSeq++, 0x0010, 0x0003, "820401");

    private Finding[] Examine() => _air.Analyse().Findings.Where(finding => finding.Id == "answer-lost-on-way-back").ToArray();
}
