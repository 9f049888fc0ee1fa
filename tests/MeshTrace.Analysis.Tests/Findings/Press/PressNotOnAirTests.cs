using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>A noted press of panel 0x0003 at 00:02:30, between its presses every 10 s before 100 s and behind 200 s.</summary>
public sealed class PressNotOnAirTests
{
    private readonly AirBuilder _air = new();
    private uint _seq = 100;

    [Fact]
    public void NumbersThatRunOn_ProveThatNothingWasSent()
    {
        Presses(0, 100);
        Presses(200, 300);
        Finding finding = Assert.Single(Examine("00:02:30"));
        Assert.Equal((Confidence.Likely, (ushort)0x0003), (finding.Confidence, finding.Node!.Value.Value));
        Assert.Contains("nothing reached the air", finding.Says, StringComparison.Ordinal);
        Assert.Contains(new Evidence("note", 0), finding.Evidence);
    }

    [Fact]
    public void APressThatWasHeard_IsNoFinding()
    {
        Presses(0, 300);
        Assert.Empty(Examine("00:02:30"));
    }

    [Fact]
    public void ANumberSkipped_MayHaveBeenThatPress_SoItIsWithheld()
    {
        Presses(0, 100);
        _seq++;
        Presses(200, 300);
        Assert.Empty(Examine("00:02:30"));
    }

    [Fact]
    public void APanelThatIsHeardBadly_AndNotAfterwards_IsNotAccused()
    {
        for (int at = 0; at < 100; at += 10, _seq += 2)
            _air.Access(at * 1000, 5, _seq, 0x0003, 0xC001, $"820201{at:x2}");
        Others();
        Assert.Empty(Examine("00:02:30"));
    }

    [Fact]
    public void ANoteAboutATimeThatTheCaptureDoesNotCover_IsNoFinding()
    {
        Presses(0, 100);
        Assert.Empty(Examine("00:02:30"));
    }

    /// <summary>Never heard at all: it sends nothing, or the receiver is deaf to it. That much is worth telling, as possible.</summary>
    [Fact]
    public void APanelThatWasNeverHeard_IsToldAsPossible()
    {
        _air.Access(0, 5, 1, 0x0009, 0xC001, "82020001");
        _air.Access(400_000, 5, 2, 0x0009, 0xC001, "82020002");
        Finding finding = Assert.Single(Examine("00:02:30"));
        Assert.Equal(Confidence.Possible, finding.Confidence);
        Assert.Contains("may be deaf to this panel", finding.Says, StringComparison.Ordinal);
    }

    private void Presses(int fromS, int toS)
    {
        for (int at = fromS; at < toS; at += 10)
            _air.Access(at * 1000, 5, _seq++, 0x0003, 0xC001, $"820201{at / 10:x2}");
    }

    private void Others() => _air.Access(400_000, 5, 1, 0x0009, 0xC001, "82020001");

    private Finding[] Examine(string time)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings
        {
            Keys = new KeyArguments { NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))] },
            Notes = FieldNotesReader.Read($"time,node,words\n{time},0x0003,pressed: nothing happened", "notes.csv"),
        });
        analysis.Read(_air.Frames);
        return analysis.Complete().Findings.Where(finding => finding.Id == "press-not-on-air").ToArray();
    }
}
