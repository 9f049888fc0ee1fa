using System.Diagnostics;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens.Reading;

/// <summary>
/// Reads the captures on a thread of its own. What it tells while reading is words that no longer touch the history, so that the drawing thread never
/// looks at a table that still grows; the history itself is handed over once, when it is complete.
/// </summary>
internal sealed class BackgroundReading : IDisposable
{
    private static readonly TimeSpan BetweenStates = TimeSpan.FromMilliseconds(200), BeforeFirstPresses = TimeSpan.FromMilliseconds(300);

    /// <summary>Looking for presses before the end may slow the reading by this part of the time.</summary>
    private const int ShareForPresses = 5;

    private readonly IFrameSource _source;
    private readonly AnalysisSettings _settings;
    private readonly VendorCatalogue? _vendor;
    private readonly CancellationTokenSource _stop = new();
    private readonly Stopwatch _clock = new();
    private readonly Thread _thread;
    private readonly Lock _telling = new();
    private Action<Action<Workspace>> _listener = _ => { };
    private TimeSpan _nextState, _nextPresses = BeforeFirstPresses;
    private IReadOnlyList<PressLine> _presses = [];

    /// <param name="source">Opened; disposed when it has been read.</param>
    /// <param name="settings">Keys and description.</param>
    /// <param name="vendor">Names of vendor messages, or null.</param>
    public BackgroundReading(IFrameSource source, AnalysisSettings settings, VendorCatalogue? vendor)
    {
        _source = source;
        // One core is left to whoever draws.
        _settings = settings with { Cores = Math.Max(1, settings.Cores - 1) };
        _vendor = vendor;
        _thread = new Thread(Run) { IsBackground = true, Name = "reading" };
    }

    /// <summary>The history, once the whole was read.</summary>
    public CaptureHistory? Finished { get; private set; }

    /// <summary>What ended the reading before its time, or null.</summary>
    public Exception? Fault { get; private set; }

    /// <param name="tell">Passes work on to the thread that draws.</param>
    public void Start(Action<Action<Workspace>> tell)
    {
        _listener = tell;
        _thread.Start();
    }

    public void Wait() => _thread.Join();

    /// <summary>Stops reading, and tells nothing from now on: whoever listened is about to go.</summary>
    public void Stop()
    {
        lock (_telling)
            _listener = _ => { };
        _stop.Cancel();
    }

    /// <summary>Stops reading and waits until the source is closed.</summary>
    public void Dispose()
    {
        Stop();
        if (_thread.IsAlive)
            _thread.Join();
        else
            _source.Dispose();
        _stop.Dispose();
    }

    private void Tell(Action<Workspace> change)
    {
        lock (_telling)
            _listener(change);
    }

    private void Run()
    {
        try
        {
            using (_source)
                Read();
        }
#pragma warning disable CA1031 // it must come out on the thread that began the program, not end the process with the terminal still taken
        catch (Exception fault)
#pragma warning restore CA1031
        {
            Fault = fault;
            Tell(_ => { });
        }
    }

    private void Read()
    {
        _clock.Start();
        var analysis = new CaptureAnalysis(_settings);
        analysis.Read(_source, (position, length) => Look(analysis, position, length), _stop.Token);
        if (_stop.IsCancellationRequested)
            return;
        long frames = analysis.History.Frames.Count;
        Tell(workspace => workspace.Tell(new ReadingState(frames, 1, _presses)));
        CaptureHistory history = analysis.Complete();
        NodeTracks tracks = NodeTracks.Of(history);
        Rehearsal.Of(history, tracks, _vendor, _stop.Token);
        Finished = history;
        Tell(workspace => workspace.Settle(history, tracks));
    }

    private void Look(CaptureAnalysis analysis, long position, long? length)
    {
        if (_clock.Elapsed < _nextState)
            return;
        if (_clock.Elapsed >= _nextPresses)
        {
            TimeSpan begun = _clock.Elapsed;
            var account = new Account(analysis.Complete(), new NameBook(analysis.History), _vendor);
            _presses = [.. analysis.History.Presses.Select(press => PressWords.LineOf(account, press))];
            _nextPresses = _clock.Elapsed + Max(BeforeFirstPresses, (_clock.Elapsed - begun) * ShareForPresses);
        }
        _nextState = _clock.Elapsed + BetweenStates;
        var state = new ReadingState(analysis.History.Frames.Count, length is > 0 and var all ? Math.Clamp((double)position / all, 0, 0.999) : null, _presses);
        Tell(workspace => workspace.Tell(state));
    }

    private static TimeSpan Max(TimeSpan a, TimeSpan b) => a > b ? a : b;
}
