using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Live;

/// <summary>
/// What one live input gave, as far back as it is remembered: frames with their octets, to be gone through as often as wanted, in the same way as a file. Old
/// frames are dropped from the front.
/// </summary>
public sealed class FrameLog(string name)
{
    /// <summary>Frames that stand together and are let go together.</summary>
    public const int ChunkFrames = 4096;

    private readonly Lock _gate = new();
    private readonly List<Chunk> _chunks = [];
    private readonly List<(ReceiverDescription Receiver, long KnownAt)> _receivers = [];
    private readonly List<long> _newestNs = [];
    private long _droppedChunks, _first, _end;       // numbers of frames since the beginning

    /// <summary>Name of the input, as the user gave it.</summary>
    public string Name => name;

    /// <summary>Frames remembered.</summary>
    public int Count => (int)(_end - _first);

    /// <summary>Frames that were dropped since the beginning.</summary>
    public long Dropped => _first;

    /// <summary>Frames for which there is room: what memory is taken for.</summary>
    public int Capacity => _chunks.Count * ChunkFrames;

    /// <summary>The receivers of this input, numbered from 0.</summary>
    public IEnumerable<ReceiverDescription> Receivers => _receivers.Select(known => known.Receiver);

    /// <summary>Where the input could not be read further, or null.</summary>
    public CaptureDamage? Damage { get; set; }

    /// <summary>Notes a receiver, numbered from 0 in this order; one of a number that is there already is described anew.</summary>
    public void Describe(ReceiverDescription receiver)
    {
        ArgumentNullException.ThrowIfNull(receiver);
        if (receiver.Index < _receivers.Count)
        {
            _receivers[receiver.Index] = (receiver, _receivers[receiver.Index].KnownAt);
            return;
        }
        ArgumentOutOfRangeException.ThrowIfNotEqual(receiver.Index, _receivers.Count, nameof(receiver));
        _receivers.Add((receiver, _end));
        _newestNs.Add(CapturedFrame.NoTime);
    }

    /// <summary>Remembers a frame of a receiver that was described.</summary>
    public void Add(scoped in CapturedFrame frame)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(frame.Receiver, _receivers.Count, nameof(frame));
        lock (_gate)
        {
            if (_end == (_droppedChunks + _chunks.Count) * ChunkFrames)
                _chunks.Add(new Chunk());
            _chunks[^1].Add(in frame);
            _end++;
        }
        if (IsTime(frame.TimeNs))
            _newestNs[frame.Receiver] = Math.Max(_newestNs[frame.Receiver], frame.TimeNs);
    }

    /// <summary>How far back the oldest frame lies, by its receiver's own clock; 0 where that is not known.</summary>
    public long LengthNs
    {
        get
        {
            if (Count == 0)
                return 0;
            CapturedFrame oldest = At(_first);
            return IsTime(oldest.TimeNs) ? Math.Max(0, _newestNs[oldest.Receiver] - oldest.TimeNs) : 0;
        }
    }

    /// <summary>Drops frames from the front that lie further back than this, each by its receiver's own clock. A frame without time goes with the one behind it.</summary>
    public void DropOlderThan(long lengthNs)
    {
        long first = _first;
        for (long at = _first; at < _end; at++)
        {
            CapturedFrame frame = At(at);
            if (!IsTime(frame.TimeNs))
                continue;
            if (frame.TimeNs >= _newestNs[frame.Receiver] - lengthNs)
                break;
            first = at + 1;
        }
        DropTo(first);
    }

    /// <summary>Drops so many frames from the front.</summary>
    public void Drop(int count) => DropTo(_first + Math.Clamp(count, 0, Count));

    /// <summary>Goes through what is remembered now, as if it were read from the input. What comes later is not in it.</summary>
    public IFrameSource Open() => new Replay(this);

    /// <summary>
    /// A copy of the frame that began at an offset of the input, or null where it is not remembered; of several, which an input that was replaced can have, the newest.
    /// May be asked for from any thread; everything else here belongs to one.
    /// </summary>
    public FrameCopy? Copy(long fileOffset, int receiver)
    {
        lock (_gate)
        {
            for (long at = _end - 1; at >= _first; at--)
            {
                CapturedFrame frame = At(at);
                if (frame.FileOffset != fileOffset || frame.Receiver != receiver)
                    continue;
                var copy = new FrameCopy();
                copy.Take(in frame, receiver);
                return copy;
            }
            return null;
        }
    }

    private static bool IsTime(long timeNs) => timeNs is >= CapturedFrame.EarliestNs and <= CapturedFrame.LatestNs;

    private CapturedFrame At(long number) => _chunks[(int)((number / ChunkFrames) - _droppedChunks)].At((int)(number % ChunkFrames));

    private void DropTo(long first)
    {
        lock (_gate)
        {
            _first = first;
            int whole = (int)((_first / ChunkFrames) - _droppedChunks);
            _chunks.RemoveRange(0, whole);
            _droppedChunks += whole;
        }
    }

    private sealed class Chunk
    {
        private readonly Row[] _rows = new Row[ChunkFrames];
        private byte[] _octets = new byte[ChunkFrames * 16];
        private int _count, _used;

        public void Add(scoped in CapturedFrame frame)
        {
            int length = frame.Octets.Length;
            if (_used + length > _octets.Length)
                Array.Resize(ref _octets, Math.Max(_octets.Length * 2, _used + length));
            frame.Octets.CopyTo(_octets.AsSpan(_used));
            _rows[_count++] = new Row(frame.TimeNs, frame.FileOffset, _used, length, frame.OriginalLength, frame.Receiver, frame.LinkType, frame.Hci, frame.MarkedCrcBad);
            _used += length;
        }

        public CapturedFrame At(int row)
        {
            ref readonly Row at = ref _rows[row];
            return new CapturedFrame
            {
                Receiver = at.Receiver, LinkType = at.LinkType, TimeNs = at.TimeNs, OriginalLength = at.OriginalLength, FileOffset = at.FileOffset,
                Octets = _octets.AsSpan(at.OctetsAt, at.Length), Hci = at.Hci, MarkedCrcBad = at.MarkedCrcBad,
            };
        }

        private readonly record struct Row(long TimeNs, long FileOffset, int OctetsAt, int Length, int OriginalLength, int Receiver, LinkType LinkType, HciKind Hci, bool MarkedCrcBad);
    }

    /// <summary>Receivers come to be known with the frames before which the input told them, so that whoever counts on that finds the same as in the file.</summary>
    private sealed class Replay(FrameLog log) : IFrameSource
    {
        private readonly List<ReceiverDescription> _known = [];
        private readonly long _end = log._end;
        private readonly CaptureDamage? _damage = log.Damage;
        private long _at = log._first;

        public IReadOnlyList<ReceiverDescription> Receivers
        {
            get
            {
                while (_known.Count < log._receivers.Count && (log._receivers[_known.Count].KnownAt < _at || _at == _end))
                    _known.Add(log._receivers[_known.Count].Receiver with { });
                return _known;
            }
        }

        public CaptureDamage? Damage => _at == _end ? _damage : null;
        public long Position => _at - log._first;
        public long? Length => _end - log._first;

        public bool TryReadNext(out CapturedFrame frame)
        {
            if (_at == _end)
            {
                frame = default;
                return false;
            }
            frame = log.At(_at++);
            return true;
        }

        public void Dispose()
        {
        }
    }
}
