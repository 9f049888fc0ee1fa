using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Live;
using MeshTrace.Analysis.Presses;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Live;
using MeshTrace.Protocol.Link;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Live;

/// <summary>What is remembered of a live run, and what is told of it while it grows.</summary>
public sealed class LiveWindowTests
{
    private static AnalysisSettings Settings => new()
    {
        Description = NetworkDescriptionReader.Read(File.ReadAllBytes(Path.ChangeExtension(Demo.Capture("library"), "network.json")), "library"), Cores = 1,
    };

    [Fact]
    public void ToldWhileItGrows_IsWhatIsToldOfTheWhole()
    {
        var window = new LiveWindow(Settings, ["library"], align: true, LiveLimits.Usual with { LengthNs = long.MaxValue / 4 });
        var telling = new LiveTelling();
        var told = new Dictionary<int, PressOutcome>();
        var findings = new List<string>();
        CaptureHistory history = Feed(window, 1000, (grown, final) =>
        {
            long now = grown.TimeSpanNs!.Value.Last;
            foreach (ToldPress press in telling.TakePresses(grown, now, final))
            {
                Assert.Equal(press.Row + 1, press.Number);
                Assert.Equal(press.Before is not null, told.ContainsKey(press.Number));
                told[press.Number] = grown.Presses[press.Row].Outcome;
            }
            findings.AddRange(telling.TakeFindings(grown, now, final).Select(row => grown.Findings[row].Id));
        });
        Assert.Equal(Demo.Library.Presses.Select(press => press.Outcome), told.OrderBy(press => press.Key).Select(press => press.Value));
        Assert.Equal(Demo.Library.Presses.Count, telling.Presses);
        Assert.Equal(Demo.Library.Findings.Select(finding => finding.Says), history.Findings.Select(finding => finding.Says));
        Assert.All(Demo.Library.Findings, finding => Assert.Contains(finding.Id, findings));
    }

    [Fact]
    public void RowsRemembered_StayBelowTheBound_AndPressesKeepTheirNumbers()
    {
        const int most = 3000;
        var limits = new LiveLimits(long.MaxValue / 4, most);
        var window = new LiveWindow(Settings, ["library"], align: true, limits);
        var telling = new LiveTelling();
        var numbers = new List<int>();
        int looks = 0;
        CaptureHistory history = Feed(window, 250, (grown, final) =>
        {
            looks++;
            Assert.InRange(grown.Frames.Count, 1, limits.FramesToDropAt);
            Assert.InRange(window.Count, 1, limits.FramesToDropAt);
            Assert.InRange(window.Logs[0].Capacity, window.Count, limits.FramesToDropAt + (2 * FrameLog.ChunkFrames));
            if (window.Dropped > 0)
                telling.BeginAt(grown.TimeSpanNs!.Value.First);
            numbers.AddRange(telling.TakePresses(grown, grown.TimeSpanNs!.Value.Last, final).Where(press => press.Before is null).Select(press => press.Number));
        });
        Assert.True(looks > 40, $"{looks} looks");
        Assert.True(window.IsShortened);
        Assert.Equal(Demo.Library.Frames.Count, window.Count + window.Dropped);
        Assert.InRange(history.Frames.Count, 1, limits.FramesToDropAt);
        // Each press has been told once, with the number it has in the whole capture.
        Assert.Equal(Enumerable.Range(1, Demo.Library.Presses.Count), numbers.Order());
    }

    [Fact]
    public void TimeRemembered_IsWhatWasAskedFor_WithinAQuarter()
    {
        const int minutes = 20;
        var limits = LiveLimits.Usual with { LengthNs = minutes * LiveLimits.NsPerMinute };
        var window = new LiveWindow(Settings, ["library"], align: true, limits);
        long longest = 0;
        Feed(window, 250, (_, _) => { }, () => longest = Math.Max(longest, window.Logs[0].LengthNs));
        Assert.InRange(longest, limits.LengthNs, limits.LengthToDropAtNs);
        Assert.False(window.IsShortened);
        Assert.True(window.Dropped > 0);
    }

    /// <summary>Feeds the library, with a look after so many frames.</summary>
    private static CaptureHistory Feed(LiveWindow window, int framesBetweenLooks, Action<CaptureHistory, bool> look, Action? dropped = null)
    {
        using IFrameSource source = CaptureFile.Open(Demo.Capture("library"));
        FrameLog log = window.Logs[0];
        int untilLook = framesBetweenLooks;
        while (source.TryReadNext(out CapturedFrame frame))
        {
            for (int known = log.Receivers.Count(); known < source.Receivers.Count; known++)
                log.Describe(source.Receivers[known]);
            log.Add(in frame);
            if (--untilLook > 0)
                continue;
            untilLook = framesBetweenLooks;
            CaptureHistory grown = window.MakeHistory();
            look(grown, false);
            window.DropOld(grown);
            dropped?.Invoke();
        }
        CaptureHistory last = window.MakeHistory();
        look(last, true);
        return last;
    }
}
