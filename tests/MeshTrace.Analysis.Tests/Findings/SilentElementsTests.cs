using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Analysis.Tests.Findings;

/// <summary>Silences judged on two cores, each with the receiver's eye for a half of the presses.</summary>
public class SilentElementsTests
{
    private static readonly LoadPlan Plan = new() { Frames = 60_000 };
    private static readonly byte[] Capture = Composed(LoadComposer.WriteCapture), Description = Composed(LoadComposer.WriteDescription);

    [Fact]
    public void TwoCores_JudgeAsOneDoes()
    {
        CaptureHistory one = Analysed(1), two = Analysed(2);
        Assert.Equal((1, 2), (one.Cores, two.Cores));
        Silence[] judged = [.. new SilentElements(one).All];
        Assert.True(judged.Length > 200);
        Assert.Equal(judged.Select(Told), new SilentElements(two).All.Select(Told));
        Assert.Equal(judged.OrderBy(silence => silence.Press), judged);
        Assert.Contains(judged, silence => silence.NothingSent);
        Assert.Contains(judged, silence => !silence.Owed);
    }

    /// <summary>What is told of a press and an element in short is what the whole view of them tells.</summary>
    [Fact]
    public void Silences_AreSeenAsTheReceiversEyeSeesThem()
    {
        CaptureHistory history = Analysed(2);
        foreach (Silence silence in new SilentElements(history).All.Take(500))
        {
            EyeView view = history.ReceiversEye(silence.Press, silence.Element);
            Assert.Equal(Told(silence)[..^1], Told(view));
            Assert.Equal(view.Evidence, silence.View.Evidence);
        }
    }

    private static object?[] Told(Silence silence) =>
    [
        silence.View.Press, silence.View.Element, silence.View.Node, silence.View.Verdict, silence.View.Step, silence.View.Doubt, silence.View.Confidence, silence.View.TtlSent,
        silence.View.TtlNeeded, silence.View.Seq, silence.View.SeqReceivedBefore, silence.View.AppKeyIndex,
        silence.View.Model, silence.View.RestsOn, silence.View.OthersReach, silence.View.OutOfNetwork, (silence.Owed, silence.MissChance, silence.NothingSent, silence.NeverHeard, silence.HeardBefore),
    ];

    private static object?[] Told(EyeView view) =>
    [
        view.Press, view.Element, view.Node, view.Verdict, view.Step, view.Doubt, view.Confidence, view.TtlSent, view.TtlNeeded, view.Seq, view.SeqReceivedBefore,
        view.AppKeyIndex, view.Model, view.Evidence.Skip(1).Select(row => (Evidence?)row).FirstOrDefault(), view.OthersReach, view.OutOfNetwork,
    ];

    private static CaptureHistory Analysed(int cores)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = NetworkDescriptionReader.Read(Description, "load"), Cores = cores });
        using IFrameSource source = CaptureFile.Open(new MemoryStream(Capture), "load");
        analysis.Read(source);
        return analysis.Complete();
    }

    private static byte[] Composed(Action<LoadPlan, Stream> write)
    {
        using var octets = new MemoryStream();
        write(Plan, octets);
        return octets.ToArray();
    }

    private static byte[] Composed(Func<LoadPlan, Stream, LoadSummary> write) => Composed((plan, stream) => { write(plan, stream); });
}
