using System.Diagnostics;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens.Reading;

/// <summary>Reads captures: tells how far it is and which presses it knows, and hands the history over once, when it is complete.</summary>
/// <param name="source">Opened; disposed when it has been read.</param>
/// <param name="settings">Keys and description.</param>
/// <param name="vendor">Names of vendor messages, or null.</param>
internal sealed class BackgroundReading(IFrameSource source, AnalysisSettings settings, VendorCatalogue? vendor) : ScreenReading
{
    private static readonly TimeSpan BetweenStates = TimeSpan.FromMilliseconds(200), BeforeFirstPresses = TimeSpan.FromMilliseconds(300);

    /// <summary>Looking for presses before the end may slow the reading by this part of the time.</summary>
    private const int ShareForPresses = 5;

    private readonly Stopwatch _clock = new();
    private TimeSpan _nextState, _nextPresses = BeforeFirstPresses;
    private IReadOnlyList<PressLine> _presses = [];

    protected override void Close() => source.Dispose();

    protected override void Read()
    {
        _clock.Start();
        // One core is left to whoever draws.
        var analysis = new CaptureAnalysis(settings with { Cores = Math.Max(1, settings.Cores - 1) });
        analysis.Read(source, (position, length) => Look(analysis, position, length), Stopping);
        if (Stopping.IsCancellationRequested)
            return;
        long frames = analysis.History.Frames.Count;
        Tell(workspace => workspace.Tell(new ReadingState(frames, 1, _presses)));
        CaptureHistory history = analysis.Complete();
        NodeTracks tracks = NodeTracks.Of(history);
        Rehearsal.Of(history, tracks, vendor, Stopping);
        Finished = history;
        GC.Collect();       // what reading leaves behind goes now, in 20 ms for a million frames, not while the first keys are answered
        Tell(workspace => workspace.Settle(history, tracks));
    }

    private void Look(CaptureAnalysis analysis, long position, long? length)
    {
        if (_clock.Elapsed < _nextState)
            return;
        if (_clock.Elapsed >= _nextPresses)
        {
            TimeSpan begun = _clock.Elapsed;
            var account = new Account(analysis.Complete(), new NameBook(analysis.History), vendor);
            _presses = [.. analysis.History.Presses.Select(press => PressWords.LineOf(account, press))];
            _nextPresses = _clock.Elapsed + Max(BeforeFirstPresses, (_clock.Elapsed - begun) * ShareForPresses);
        }
        _nextState = _clock.Elapsed + BetweenStates;
        var state = new ReadingState(analysis.History.Frames.Count, length is > 0 and var all ? Math.Clamp((double)position / all, 0, 0.999) : null, _presses);
        Tell(workspace => workspace.Tell(state));
    }

    private static TimeSpan Max(TimeSpan a, TimeSpan b) => a > b ? a : b;
}
