using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Screens;
using MeshTrace.Screens.Reading;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Screens;

public sealed class BackgroundReadingTests
{
    private static AnalysisSettings Settings => new()
    {
        Description = NetworkDescriptionReader.Read(File.ReadAllBytes(Path.ChangeExtension(Demo.Capture("library"), "network.json")), "library"), Cores = 2,
    };

    [Fact]
    public void TheHistory_IsHandedOverOnce_AndIsTheSame()
    {
        var workspace = new Workspace();
        using var reading = new BackgroundReading(CaptureFile.Open(Demo.Capture("library")), Settings, vendor: null);
        reading.Start(change => change(workspace));
        reading.Wait();
        Assert.Null(reading.Fault);
        Assert.True(workspace.IsSettled);
        Assert.Same(reading.Finished, workspace.History);
        Assert.Equal(Demo.Library.Presses.Select(press => (press.TimeNs, press.Outcome)), workspace.History.Presses.Select(press => (press.TimeNs, press.Outcome)));
        Assert.Equal(Demo.Library.Frames.Count, workspace.Reading.Frames);
    }

    [Fact]
    public void Presses_AreToldWhileReading_AndDoNotChangeWhatComesOut()
    {
        var workspace = new Workspace();
        int most = 0;
        using var slow = new SlowSource(CaptureFile.Open(Demo.Capture("library")));
        using var reading = new BackgroundReading(slow, Settings, vendor: null);
        reading.Start(change =>
        {
            change(workspace);
            if (!workspace.IsSettled)
                most = Math.Max(most, workspace.Reading.Presses.Count);
        });
        reading.Wait();
        Assert.Null(reading.Fault);
        Assert.InRange(most, 1, Demo.Library.Presses.Count);
        Assert.Equal(Demo.Library.Presses.Select(press => (press.TimeNs, press.Outcome, press.Answers.Count)), workspace.History.Presses.Select(press => (press.TimeNs, press.Outcome, press.Answers.Count)));
        Assert.Equal(Demo.Library.Findings.Select(finding => finding.Says), workspace.History.Findings.Select(finding => finding.Says));
    }

    [Fact]
    public void AFault_ComesOutWhereTheProgramWaits()
    {
        using var broken = new SlowSource(CaptureFile.Open(Demo.Capture("library")), failAfter: 5000);
        using var reading = new BackgroundReading(broken, Settings, vendor: null);
        reading.Start(_ => { });
        reading.Wait();
        Assert.IsType<IOException>(reading.Fault);
        Assert.Null(reading.Finished);
    }

    [Fact]
    public void Stopping_EndsTheThread()
    {
        var slow = new SlowSource(CaptureFile.Open(Demo.Capture("library")));
        var reading = new BackgroundReading(slow, Settings, vendor: null);
        reading.Start(_ => { });
        reading.Dispose();
        Assert.True(slow.IsClosed);
    }

    /// <summary>Pauses now and then, as a slow disk does.</summary>
    private sealed class SlowSource(IFrameSource source, int failAfter = int.MaxValue) : IFrameSource
    {
        private int _frames;

        public bool IsClosed { get; private set; }
        public IReadOnlyList<ReceiverDescription> Receivers => source.Receivers;
        public CaptureDamage? Damage => source.Damage;
        public long Position => source.Position;
        public long? Length => source.Length;

        public bool TryReadNext(out CapturedFrame frame)
        {
            if (++_frames > failAfter)
                throw new IOException("the disk is gone");
            if (_frames % 4000 == 0)
                Thread.Sleep(450);
            return source.TryReadNext(out frame);
        }

        public void Dispose()
        {
            IsClosed = true;
            source.Dispose();
        }
    }
}
