using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>
/// Several capture files as one source: their frames in the order of time, so that files of receivers that recorded side by side are one history.
/// Within a file the order is kept as it stands. Damage in one does not keep the others from being read.
/// </summary>
public sealed class CaptureMerge : IFrameSource
{
    private readonly List<Lane> _lanes = [];
    private readonly PriorityQueue<Lane, (long TimeNs, int Lane)> _waiting = new();
    private readonly List<ReceiverDescription> _receivers = [];
    private readonly List<CaptureDamage> _damage = [];
    private Lane? _given;       // its frame was handed out: it is asked for the next one only now, since that overwrites the octets

    internal CaptureMerge(IReadOnlyList<IFrameSource> files)
    {
        long? length = 0;
        foreach (IFrameSource file in files)
        {
            length += file.Length;
            var lane = new Lane(_lanes.Count, file);
            _lanes.Add(lane);
            Advance(lane);
        }
        Length = length;
    }

    /// <summary>In the order met: what the files say before their first frame, file by file, then as they come.</summary>
    public IReadOnlyList<ReceiverDescription> Receivers
    {
        get
        {
            foreach (Lane lane in _lanes)
                lane.CarryOverDrops(_receivers);
            return _receivers;
        }
    }

    /// <summary>The damage found first; <see cref="AllDamage"/> has that of the other files.</summary>
    public CaptureDamage? Damage => _damage.Count > 0 ? _damage[0] : null;

    /// <inheritdoc />
    public IReadOnlyList<CaptureDamage> AllDamage => _damage;

    public long Position => _lanes.Sum(lane => lane.Source.Position);

    public long? Length { get; }

    public bool TryReadNext(out CapturedFrame frame)
    {
        if (_given is { } before)
        {
            _given = null;
            Advance(before);
        }
        if (!_waiting.TryDequeue(out Lane? next, out _))
        {
            frame = default;
            return false;
        }
        _given = next;
        frame = next.Frame();
        return true;
    }

    public void Dispose()
    {
        foreach (Lane lane in _lanes)
            lane.Source.Dispose();
    }

    private void Advance(Lane lane)
    {
        bool more = lane.TryRead(_receivers);
        if (more)
            _waiting.Enqueue(lane, (lane.TimeNs, lane.Number));
        else if (lane.Source.Damage is { } damage)
            _damage.Add(damage);
    }

    /// <summary>One file with its next frame, kept aside while the other files are ahead.</summary>
    private sealed class Lane(int number, IFrameSource source)
    {
        private readonly List<int> _numbers = [];       // number of each of the file's receivers over all files
        private readonly FrameCopy _next = new();

        public int Number { get; } = number;
        public IFrameSource Source { get; } = source;

        /// <summary>Where the lane stands in time: a frame without time goes with the one before it.</summary>
        public long TimeNs { get; private set; } = CapturedFrame.NoTime;

        public bool TryRead(List<ReceiverDescription> receivers)
        {
            bool more = Source.TryReadNext(out CapturedFrame frame);
            for (int local = _numbers.Count; local < Source.Receivers.Count; local++)
            {
                _numbers.Add(receivers.Count);
                receivers.Add(Source.Receivers[local] with { Index = receivers.Count });
            }
            if (!more)
                return false;
            _next.Take(in frame, _numbers[frame.Receiver]);
            if (frame.TimeNs != CapturedFrame.NoTime)
                TimeNs = frame.TimeNs;
            return true;
        }

        public CapturedFrame Frame() => _next.Frame();

        /// <summary>A recorder may tell what it dropped only at the end.</summary>
        public void CarryOverDrops(List<ReceiverDescription> receivers)
        {
            for (int local = 0; local < _numbers.Count; local++)
                receivers[_numbers[local]].ReportedDropped = Source.Receivers[local].ReportedDropped;
        }
    }
}
