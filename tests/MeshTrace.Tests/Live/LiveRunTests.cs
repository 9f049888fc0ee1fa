using System.Text;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Commands;
using MeshTrace.Live;
using MeshTrace.Protocol.Link;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Live;

/// <summary>A run with inputs that the test plays: overload, a full window, several inputs of which one is refused.</summary>
public sealed class LiveRunTests
{
    [Fact]
    public void WhatAnOverloadLoses_IsCountedAndSaid()
    {
        var air = new PlayedInput("air", Demo.Capture("boathouse"), frames: 1000, waits: false) { LostInTheSystem = 7 };
        (CaptureHistory history, string output, _) = Run([air], LiveLimits.Usual, new FrameQueue(mostFrames: 100));
        Assert.Equal(100, history.Frames.Count);
        Assert.Contains("100 frames,", output, StringComparison.Ordinal);
        Assert.Contains("Lost by overload: 900 frames here, 7 before they came here.", output.ReplaceLineEndings(" "), StringComparison.Ordinal);
    }

    [Fact]
    public void WhereNothingIsLost_NothingIsSaidOfIt()
    {
        (CaptureHistory history, string output, _) = Run([new PlayedInput("file", Demo.Capture("boathouse"), 1000, waits: false)], LiveLimits.Usual, new FrameQueue());
        Assert.Equal(1000, history.Frames.Count);
        Assert.DoesNotContain("overload", output, StringComparison.Ordinal);
    }

    [Fact]
    public void AFullWindow_IsMadeRoomIn_HoweverFastFramesCome_AndThatIsSaid()
    {
        var limits = new LiveLimits(long.MaxValue / 4, 2000);
        (CaptureHistory history, string output, string error) = Run([new PlayedInput("file", Demo.Capture("library"), int.MaxValue, waits: false)], limits, new FrameQueue(mostFrames: 100_000));
        Assert.InRange(history.Frames.Count, 1, limits.FramesToDropAt);
        Assert.Contains("more frames come than the history holds", error, StringComparison.Ordinal);
        Assert.Contains($"{Demo.Library.Frames.Count:N0} frames,", output.ReplaceLineEndings(" "), StringComparison.Ordinal);
        Assert.Contains("Left the history before the end", output, StringComparison.Ordinal);
    }

    [Fact]
    public void OneInputThatIsRefused_DoesNotStopTheOthers()
    {
        var missing = new LiveFile(Path.Combine(Path.GetTempPath(), "there is no such file"));
        (CaptureHistory history, _, string error) = Run([missing, new PlayedInput("file", Demo.Capture("boathouse"), 500, waits: true)], LiveLimits.Usual, new FrameQueue());
        Assert.Equal(500, history.Frames.Count);
        Assert.Contains("there is no file", error, StringComparison.Ordinal);
    }

    private static (CaptureHistory History, string Output, string Error) Run(IReadOnlyList<LiveInput> inputs, LiveLimits limits, FrameQueue queue)
    {
        using var output = new MemoryStream();
        using var error = new StringWriter();
        var surroundings = new Surroundings { Output = output, Error = error };
        CaptureHistory history;
        using (var account = new RunningAccount(surroundings, colour: false, vendor: null))
        {
            var window = new LiveWindow(new AnalysisSettings { Cores = 1 }, inputs.Select(input => input.Name), align: true, limits);
            history = new LiveRun(inputs, window, kept: null, account, queue).Run(CancellationToken.None);
        }
        return (history, Encoding.UTF8.GetString(output.ToArray()), error.ToString());
    }

    /// <summary>Gives frames of a file all at once, before anybody takes one.</summary>
    private sealed class PlayedInput(string name, string file, int frames, bool waits) : LiveInput(name)
    {
        public long LostInTheSystem { get; init; }

        public override long LostBefore => LostInTheSystem;

        public override void Join(TimeSpan longest)
        {
        }

        protected override void Begin(CancellationToken stop)
        {
            using IFrameSource source = CaptureFile.Open(file);
            var numbers = new List<int>();
            for (int at = 0; at < frames && source.TryReadNext(out CapturedFrame frame); at++)
            {
                Meet(source, numbers);
                Queue.Put(Lane, in frame, numbers[frame.Receiver], waits);
            }
            TellEnd();
        }
    }
}
