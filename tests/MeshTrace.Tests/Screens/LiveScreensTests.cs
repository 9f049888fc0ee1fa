using System.Diagnostics;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Live;
using MeshTrace.Protocol.Link;
using MeshTrace.Screens;
using MeshTrace.Screens.Octets;
using MeshTrace.Screens.Reading;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Screens;

/// <summary>Screens over a history that is made anew while it is looked at: what was selected stays selected, and where it was.</summary>
public sealed class LiveScreensTests : IDisposable
{
    private const int Presses = 0, Timelines = 1, Hops = 2, Transfers = 4, Network = 5;

    private static readonly Lazy<Grown> LazyGrown = new(Grown.Make);

    private readonly string _directory = Directory.CreateTempSubdirectory("live").FullName;
    private readonly Workspace _workspace = new();

    private static AnalysisSettings Settings => new()
    {
        Description = NetworkDescriptionReader.Read(File.ReadAllBytes(Path.ChangeExtension(Demo.Capture("library"), "network.json")), "library"), Cores = 2,
    };

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [Theory]
    [InlineData(Presses), InlineData(Hops), InlineData(Timelines), InlineData(Network), InlineData(Transfers)]
    public void WhatIsSelected_StaysSelected_WhenMoreComesAndTheBeginningLeaves(int screen)
    {
        Browser browser = Demo.Browse(_workspace);
        Renew(LazyGrown.Value.Short);
        browser.GoTo(screen);
        if (screen == Hops)
            browser.Type("a");      // all floods
        browser.Compose(100, 30);
        browser.Current.Selected = Math.Max(0, browser.Current.RowCount - 2);
        string before = Selected(browser);
        Renew(LazyGrown.Value.Longer);
        string after = Selected(browser);
        Assert.Equal(Settled(before), Settled(after));
        Renew(LazyGrown.Value.Later);
        Assert.True(LazyGrown.Value.Later.Presses.Count < LazyGrown.Value.Longer.Presses.Count, "the beginning has left");
        Assert.Equal(Settled(before), Settled(Selected(browser)));
        Assert.Contains(" LIVE ", browser.Text(100, 30), StringComparison.Ordinal);
    }

    [Fact]
    public void TheOctetsOfAFrame_StayThose_AndComeOutOfMemory()
    {
        var asked = new List<long>();
        using var frames = new FrameStore(work => work(), work => work())
        {
            FromMemory = (history, frame) =>
            {
                asked.Add(history.Frames[frame].FileOffset);
                return new FrameOctets(frame, LinkType.LeLinkLayerWithRadioHeader, history.Frames[frame].TimeNs, 3, HciKind.Unknown, false, [1, 2, 3]);
            },
        };
        var browser = new Browser(_workspace, frames, Demo.NoOutlets);
        Renew(LazyGrown.Value.Short);
        browser.Current.Selected = browser.Current.RowCount - 1;
        browser.Type("x");
        browser.Compose(100, 30);
        Renew(LazyGrown.Value.Longer);
        browser.Compose(100, 30);
        Renew(LazyGrown.Value.Later);
        browser.Compose(100, 30);
        Assert.InRange(asked.Count, 3, 100);
        Assert.Single(asked.Distinct());
        Assert.NotEqual(0, browser.Current.RowCount);
    }

    [Fact]
    public void WhatHasLeftTheHistory_IsNoLongerSelected_AndNothingFails()
    {
        Browser browser = Demo.Browse(_workspace);
        Renew(LazyGrown.Value.Short);
        browser.Compose(100, 30);
        browser.Current.Selected = 0;
        browser.Type("op");     // only the first press
        Assert.Equal(1, browser.Current.RowCount);
        Renew(LazyGrown.Value.Later);
        for (int screen = 0; screen < browser.Screens.Count; screen++)
        {
            browser.GoTo(screen);
            browser.Compose(100, 30);
        }
        Assert.Null(_workspace.Only.Press);
    }

    [Fact]
    public void WhileSomethingIsAsked_ANewHistoryWaits()
    {
        Browser browser = Demo.Browse(_workspace);
        Renew(LazyGrown.Value.Short);
        browser.Type("o");
        Renew(LazyGrown.Value.Longer);
        Assert.Same(LazyGrown.Value.Short, _workspace.History);
        browser.Take(Motion.Escape);
        Assert.Same(LazyGrown.Value.Longer, _workspace.History);
    }

    [Fact]
    public void AClosedUpLook_IsKeptWhileTheWholeGrows()
    {
        Browser browser = Demo.Browse(_workspace);
        Renew(LazyGrown.Value.Short);
        browser.GoTo(Timelines);
        browser.Compose(100, 30);
        browser.Type("++");
        string shown = Scale(browser);
        Renew(LazyGrown.Value.Longer);
        Assert.Equal(shown, Scale(browser));
        browser.Type("0");
        string whole = Scale(browser);
        Renew(LazyGrown.Value.Later);
        Assert.NotEqual(whole, Scale(browser));
    }

    [Fact]
    public void Notices_AreShownUntilTheNextKey()
    {
        Browser browser = Demo.Browse(_workspace);
        _workspace.Notice("the file was moved away.");
        Renew(LazyGrown.Value.Short);
        Assert.Contains("the file was moved away.", browser.Text(), StringComparison.Ordinal);
        browser.Take(Motion.Down);
        Assert.DoesNotContain("the file was moved away.", browser.Text(), StringComparison.Ordinal);
    }

    [Fact]
    public void AGrowingFile_ComesToTheScreens_FrameByFrame()
    {
        string growing = Path.Combine(_directory, "growing");
        byte[] capture = File.ReadAllBytes(Demo.Capture("library"));
        File.WriteAllBytes(growing, capture[..(capture.Length / 2)]);
        Browser browser;
        using var reading = new LiveReading([new LiveFile(growing)], Settings, align: true, LiveLimits.Usual with { LengthNs = long.MaxValue / 4 }, kept: null, vendor: null);
        using var frames = new FrameStore(work => work(), work => work()) { FromMemory = reading.FromMemory };
        var gate = new Lock();
        browser = new Browser(_workspace, frames, Demo.NoOutlets);
        reading.Start(change =>
        {
            lock (gate)
                change(_workspace);
        });
        WaitUntil(gate, () => _workspace.IsSettled && _workspace.History.Presses.Count > 0);
        lock (gate)
        {
            browser.Type("x");
            browser.Compose(100, 30);
            Assert.NotEqual(0, browser.Current.RowCount);       // octets, read from memory
            Assert.InRange(_workspace.History.Frames.Count, 1, Demo.Library.Frames.Count - 1);
        }
        using (var file = new FileStream(growing, FileMode.Append, FileAccess.Write, FileShare.ReadWrite))
            file.Write(capture.AsSpan(capture.Length / 2));
        WaitUntil(gate, () => _workspace.History.Frames.Count == Demo.Library.Frames.Count);
        lock (gate)
            Assert.Equal(Demo.Library.Presses.Select(press => (press.TimeNs, press.Outcome)), _workspace.History.Presses.Select(press => (press.TimeNs, press.Outcome)));
        reading.Stop();
        reading.Wait();
        Assert.Null(reading.Fault);
    }

    private void Renew(CaptureHistory history) =>
        _workspace.Renew(history, NodeTracks.Of(history), new LiveStanding(new LiveState(history.Frames.Count, 0, 0, 0, 0), HasEnded: false));

    private static string Selected(Browser browser)
    {
        browser.Compose(100, 30);
        return browser.Current.RowCount == 0 ? "" : browser.Current.Row(browser.Current.Selected, 98).ToString();
    }

    /// <summary>What is not yet settled of a row may change: its first columns tell which it is.</summary>
    private static string Settled(string row) => row[..Math.Min(row.Length, 20)];

    private static string Scale(Browser browser) => browser.Compose(100, 30)[2].ToString();

    private static void WaitUntil(Lock gate, Func<bool> there)
    {
        var clock = Stopwatch.StartNew();
        while (true)
        {
            lock (gate)
                if (there())
                    return;
            Assert.True(clock.ElapsedMilliseconds < 60_000, "it did not come");
            Thread.Sleep(50);
        }
    }

    /// <summary>The library half, two thirds, and two thirds without its beginning.</summary>
    private sealed record Grown(CaptureHistory Short, CaptureHistory Longer, CaptureHistory Later)
    {
        public static Grown Make()
        {
            var window = new LiveWindow(Settings, [Demo.Capture("library")], align: true, new LiveLimits(long.MaxValue / 4, 6000));
            using IFrameSource source = CaptureFile.Open(Demo.Capture("library"));
            CaptureHistory half = Fed(window, source, 7000), longer = Fed(window, source, 700);
            window.DropOld(longer);
            return new Grown(half, longer, Fed(window, source, 10));
        }

        private static CaptureHistory Fed(LiveWindow window, IFrameSource source, int frames)
        {
            for (int at = 0; at < frames && source.TryReadNext(out CapturedFrame frame); at++)
            {
                if (!window.Logs[0].Receivers.Any())
                    window.Logs[0].Describe(source.Receivers[0]);
                window.Logs[0].Add(in frame);
            }
            return window.MakeHistory();
        }
    }
}
