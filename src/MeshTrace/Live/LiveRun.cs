using System.Diagnostics;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Live;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Live;

/// <summary>
/// A live run: inputs read on threads of their own into one bounded queue; this thread takes from it, saves, remembers, and makes a history now and then. It takes at
/// most a third of the time for that.
/// </summary>
/// <param name="inputs">Not yet started.</param>
/// <param name="window">What is remembered.</param>
/// <param name="kept">Where everything is saved, or null.</param>
/// <param name="listener">Who is told.</param>
/// <param name="queue">Between the threads.</param>
/// <param name="untilQuiet">Ends the run when nothing has come for so long; null: never.</param>
internal sealed class LiveRun(IReadOnlyList<LiveInput> inputs, LiveWindow window, KeptCapture? kept, ILiveListener listener, FrameQueue queue, TimeSpan? untilQuiet = null)
{
    private static readonly TimeSpan LongestWait = TimeSpan.FromMilliseconds(100), LeastBetweenHistories = TimeSpan.FromSeconds(1), BetweenFlushes = TimeSpan.FromSeconds(1),
        LongestFarewell = TimeSpan.FromMilliseconds(500);

    private readonly Stopwatch _clock = Stopwatch.StartNew();
    private readonly Dictionary<(int Lane, int Local), int> _receivers = [];
    private readonly List<string> _refused = [];
    private readonly HashSet<int> _open = [.. Enumerable.Range(0, inputs.Count)];
    private long _frames, _newestNs = CapturedFrame.NoTime, _made = -1;
    private TimeSpan _lastFrame, _nextHistory, _nextFlush;
    private bool _keepTold, _shortTold;
    private CaptureHistory? _history;

    /// <summary>What is wrong with inputs that hold no capture, from their beginning or from where another file took their place.</summary>
    public IReadOnlyList<string> Refused => _refused;

    /// <summary>True if there is nothing to tell of, because no input holds a capture.</summary>
    public bool IsRefused => _refused.Count == inputs.Count && _frames == 0;

    /// <summary>Frames received.</summary>
    public long Frames => _frames;

    /// <summary>Runs until all inputs have ended, or nothing has come for as long as was said, or it is stopped.</summary>
    /// <param name="stop">Stops it.</param>
    /// <param name="begun">Told once all inputs have begun.</param>
    /// <returns>The history of what is remembered at the end.</returns>
    /// <exception cref="CaptureLiveException">An input cannot be received from.</exception>
    public CaptureHistory Run(CancellationToken stop, Action? begun = null)
    {
#pragma warning disable CA2000 // a thread that hangs in a read outlives this, and looks at it
        var end = CancellationTokenSource.CreateLinkedTokenSource(stop);
#pragma warning restore CA2000
        try
        {
            for (int lane = 0; lane < inputs.Count; lane++)
                inputs[lane].Start(lane, queue, end.Token);
            begun?.Invoke();
            Collect(stop);
        }
        finally
        {
            end.Cancel();
        }
        foreach (LiveInput input in inputs)
        {
            queue.TakeAll(Take, TimeSpan.Zero);     // makes room for one that waits
            input.Join(LongestFarewell);
        }
        queue.TakeAll(Take, TimeSpan.Zero);
        queue.Close();
        kept?.Finish(Described(), _newestNs);
        TellKept();
        return Look(final: true);
    }

    private void Collect(CancellationToken stop)
    {
        TimeSpan quietSince = _clock.Elapsed;
        while (!stop.IsCancellationRequested && (_open.Count > 0 || queue.Waiting > 0))
        {
            if (queue.TakeAll(Take, LongestWait, stop) > 0)
                quietSince = _clock.Elapsed;
            else if (untilQuiet is { } longest && _clock.Elapsed - quietSince >= longest)
            {
                listener.Notice($"nothing has come for {longest.TotalSeconds:0.#} s: this is the end");
                return;
            }
            if (_clock.Elapsed >= _nextFlush)
            {
                kept?.Flush();
                TellKept();
                _nextFlush = _clock.Elapsed + BetweenFlushes;
            }
            if (_made != _frames && _clock.Elapsed >= _nextHistory)
                Look(final: false);
            else
                listener.Ticked(NowNs, State);
        }
    }

    private LiveState State => new(_frames, queue.Waiting, queue.Lost, inputs.Sum(input => input.LostBefore), window.Dropped);

    /// <summary>Where nothing comes, time goes on all the same.</summary>
    private long NowNs => _history?.TimeSpanNs is { } span ? span.Last + (_made == _frames ? (_clock.Elapsed - _lastFrame).Ticks * 100 : 0) : CapturedFrame.NoTime;

    private CaptureHistory Look(bool final)
    {
        TimeSpan begun = _clock.Elapsed;
        CaptureHistory history = _history = window.MakeHistory();
        _made = _frames;
        if (!IsRefused)
            listener.Looked(history, NowNs, State, final);
        if (!final)
            window.DropOld(history);
        if (window.IsShortened && !_shortTold)
        {
            _shortTold = true;
            listener.Notice("more frames come than the history holds: it does not go back as far as asked for");
        }
        TimeSpan took = _clock.Elapsed - begun;
        _nextHistory = _clock.Elapsed + (2 * took > LeastBetweenHistories ? 2 * took : LeastBetweenHistories);
        return history;
    }

    private void Take(LiveItem item)
    {
        FrameLog log = window.Logs[item.Lane];
        switch (item.Kind)
        {
            case LiveItemKind.Frame:
                TakeFrame(item, log);
                break;
            case LiveItemKind.Receiver:
                log.Describe(item.Receiver!);
                if (_receivers.TryAdd((item.Lane, item.Receiver!.Index), _receivers.Count))
                    kept?.Describe(item.Receiver with { Index = _receivers.Count - 1, Interface = item.Receiver.Interface ?? (inputs.Count > 1 ? Path.GetFileName(log.Name) : null) });
                break;
            case LiveItemKind.Text:
                kept?.Take(item.Text.Span);
                break;
            case LiveItemKind.Notice:
                listener.Notice(SafeText.Strip(item.Says, 600) ?? "");
                break;
            case LiveItemKind.End:
                _open.Remove(item.Lane);
                log.Damage = item.Damage;
                if (item.Refused is not { } why)
                    break;
                _refused.Add(SafeText.Strip(why, 600) ?? "");
                if (inputs.Count > 1 || _frames > 0)
                    listener.Notice(_refused[^1].TrimEnd('.'));
                break;
        }
    }

    private void TakeFrame(LiveItem item, FrameLog log)
    {
        CapturedFrame frame = item.Frame.Frame();
        log.Add(in frame);
        if (frame.TimeNs is >= CapturedFrame.EarliestNs and <= CapturedFrame.LatestNs)
            _newestNs = Math.Max(_newestNs, frame.TimeNs);
        _frames++;
        _lastFrame = _clock.Elapsed;
        if (kept is not null)
        {
            CapturedFrame numbered = frame with { Receiver = _receivers[(item.Lane, frame.Receiver)] };
            kept.Take(in numbered);
        }
        if (window.IsFull)
            Look(final: false);
    }

    private IEnumerable<ReceiverDescription> Described()
    {
        for (int lane = 0; lane < inputs.Count; lane++)
            foreach (ReceiverDescription receiver in window.Logs[lane].Receivers)
                yield return receiver with { Index = _receivers[(lane, receiver.Index)] };
    }

    private void TellKept()
    {
        if (_keepTold || kept?.Problem is not { } problem)
            return;
        _keepTold = true;
        listener.Notice(System.FormattableString.Invariant($"'{SafeText.Strip(kept.Name, 300)}' cannot be written any more ({SafeText.Strip(problem, 200)}): what came until then is in it ({kept.Kept} {(kept.IsText ? "octets" : "frames")}); receiving goes on without saving"));
    }
}
