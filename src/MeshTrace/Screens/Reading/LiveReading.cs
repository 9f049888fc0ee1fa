using System.Diagnostics;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Live;
using MeshTrace.Commands;
using MeshTrace.Live;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Screens.Octets;

namespace MeshTrace.Screens.Reading;

/// <summary>Receives: hands over a new history about once a second, each of them whole and nobody else's, and tells how the run stands in between.</summary>
internal sealed class LiveReading : ScreenReading, ILiveListener
{
    private static readonly TimeSpan BetweenStates = TimeSpan.FromMilliseconds(500);

    private readonly KeptCapture? _kept;
    private readonly VendorCatalogue? _vendor;
    private readonly LiveWindow _window;
    private readonly LiveRun _run;
    private readonly List<string> _notices = [];
    private readonly Stopwatch _clock = Stopwatch.StartNew();
    private TimeSpan _nextState;
    private bool _rehearsed;

    /// <param name="inputs">Not yet started.</param>
    /// <param name="settings">Keys and description.</param>
    /// <param name="align">False where all frames were stamped by one clock.</param>
    /// <param name="limits">How much is remembered.</param>
    /// <param name="kept">Where everything is saved, or null.</param>
    /// <param name="vendor">Names of vendor messages, or null.</param>
    public LiveReading(IReadOnlyList<LiveInput> inputs, AnalysisSettings settings, bool align, LiveLimits limits, KeptCapture? kept, VendorCatalogue? vendor)
    {
        _kept = kept;
        _vendor = vendor;
        Inputs = inputs;
        _window = new LiveWindow(settings with { Cores = Math.Max(1, settings.Cores - 1) }, inputs.Select(input => input.Name), align, limits);
        _run = new LiveRun(inputs, _window, kept, this, new FrameQueue());
    }

    public IReadOnlyList<LiveInput> Inputs { get; }

    /// <summary>Where everything is saved, or null.</summary>
    public KeptCapture? Kept => _kept;

    /// <summary>What the user was told while the screens were there, in order; to be read once it has ended.</summary>
    public IReadOnlyList<string> Notices => _notices;

    public override Func<CaptureHistory, int, FrameOctets?> FromMemory => FindFrame;

    public void Notice(string says)
    {
        _notices.Add(says);
        Tell(workspace => workspace.Notice(says + "."));
    }

    public void Looked(CaptureHistory history, long nowNs, LiveState state, bool final)
    {
        Finished = history;
        if (Stopping.IsCancellationRequested)
            return;
        NodeTracks tracks = NodeTracks.Of(history);
        if (!_rehearsed)
            Rehearsal.Of(history, tracks, _vendor, Stopping);
        _rehearsed = true;
        _nextState = _clock.Elapsed + BetweenStates;
        Tell(workspace => workspace.Renew(history, tracks, new LiveStanding(state, final)));
    }

    public void Ticked(long nowNs, LiveState state)
    {
        if (_clock.Elapsed < _nextState)
            return;
        _nextState = _clock.Elapsed + BetweenStates;
        Tell(workspace => workspace.Tell(new LiveStanding(state, HasEnded: false)));
    }

    protected override void Read()
    {
        _run.Run(Stopping);
        if (_run.IsRefused)
            throw new UserErrorException(ExitCode.Unreadable, _run.Refused[0], remedy: "");
    }

    protected override void Close() => _kept?.Dispose();

    private FrameOctets? FindFrame(CaptureHistory history, int frame)
    {
        FrameRow row = history.Frames[frame];
        if (row.Receiver >= history.Receivers.Count)
            return null;
        string input = history.Receivers[row.Receiver].File;
        int local = history.Receivers.Take(row.Receiver).Count(receiver => receiver.File == input);      // each input's receivers are numbered in their own order
        FrameLog? log = _window.Logs.FirstOrDefault(one => one.Name == input);
        return log?.Copy(row.FileOffset, local) is { } copy ? FrameOctets.Of(frame, copy.Frame()) : null;
    }
}
