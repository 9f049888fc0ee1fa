using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Alignment;

/// <summary>
/// A file with its times in the clock of the reference. Where the file is in the order of clocks that differ, its frames are put into the order in which they
/// were on the air: they are held back as long as the clocks differ.
/// </summary>
internal sealed class AlignedSource : IFrameSource
{
    /// <summary>Frames held back at most: with clocks that differ by more than this takes, the order is as good as it gets.</summary>
    private const int MostHeld = 1 << 15;

    private readonly IFrameSource _source;
    private readonly FileClocks _clocks;
    private readonly bool _everyReceiver;
    private readonly List<ReceiverDescription> _receivers = [];
    private readonly PriorityQueue<FrameCopy, (long TimeNs, long Number)> _waiting = new();
    private readonly Stack<FrameCopy> _free = new();
    private FrameCopy? _given;
    private long _number, _standingNs = CapturedFrame.NoTime, _newestNs = CapturedFrame.NoTime;
    private bool _ended;

    /// <param name="source">Owned.</param>
    /// <param name="clocks">By receiver of the source.</param>
    /// <param name="everyReceiver">The first clock's description is that of every receiver.</param>
    public AlignedSource(IFrameSource source, FileClocks clocks, bool everyReceiver = false) => (_source, _clocks, _everyReceiver) = (source, clocks, everyReceiver);

    public IReadOnlyList<ReceiverDescription> Receivers
    {
        get
        {
            for (int at = _receivers.Count; at < _source.Receivers.Count; at++)
                _receivers.Add(_source.Receivers[at] with { Clock = _clocks.ClockOf(_everyReceiver ? 0 : at) });
            for (int at = 0; at < _receivers.Count; at++)
                _receivers[at].ReportedDropped = _source.Receivers[at].ReportedDropped;      // may be told at the end only
            return _receivers;
        }
    }

    public CaptureDamage? Damage => _source.Damage;
    public IReadOnlyList<CaptureDamage> AllDamage => _source.AllDamage;
    public long Position => _source.Position;
    public long? Length => _source.Length;

    public void Dispose() => _source.Dispose();

    public bool TryReadNext(out CapturedFrame frame)
    {
        if (_clocks.DisorderNs == 0)
        {
            bool more = _source.TryReadNext(out frame);
            if (more)
                frame = frame with { TimeNs = _clocks.ToReference(frame.Receiver, frame.TimeNs) };
            return more;
        }
        if (_given is not null)
            _free.Push(_given);
        _given = null;
        while (!_ended && _waiting.Count < MostHeld && (!_waiting.TryPeek(out _, out (long TimeNs, long Number) first) || first.TimeNs > _newestNs - _clocks.DisorderNs))
            Hold();
        if (!_waiting.TryDequeue(out _given, out _))
        {
            frame = default;
            return false;
        }
        frame = _given.Frame();
        return true;
    }

    private void Hold()
    {
        _ended = !_source.TryReadNext(out CapturedFrame frame);
        if (_ended)
            return;
        long timeNs = _clocks.ToReference(frame.Receiver, frame.TimeNs);
        if (frame.TimeNs is >= CapturedFrame.EarliestNs and <= CapturedFrame.LatestNs)
        {
            _standingNs = timeNs;      // a frame without time goes with the one before it
            _newestNs = Math.Max(_newestNs, timeNs);
        }
        if (!_free.TryPop(out FrameCopy? held))
            held = new FrameCopy();
        held.Take(in frame, frame.Receiver);
        held.TimeNs = timeNs;
        _waiting.Enqueue(held, (_standingNs, _number++));
    }
}
