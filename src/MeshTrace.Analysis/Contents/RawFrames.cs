using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Contents;

/// <summary>Frames as a source gave them, with a copy of their octets: so one core can read on while another looks into them. Made to be used again.</summary>
internal sealed class RawFrames
{
    private const int FirstFrames = 256, FirstOctets = 1 << 14;

    private Raw[] _frames = new Raw[FirstFrames];
    private byte[] _octets = new byte[FirstOctets];
    private int _length;

    /// <summary>A frame but for its octets, which begin at <see cref="At"/>.</summary>
    private struct Raw
    {
        public long TimeNs, FileOffset;
        public int At, Length, OriginalLength, Receiver;
        public LinkType LinkType;
        public HciKind Hci;
        public bool MarkedCrcBad;
    }

    /// <summary>Frames in it.</summary>
    public int Count { get; private set; }

    /// <summary>A frame; its octets are valid until <see cref="Clear"/>.</summary>
    public CapturedFrame this[int frame]
    {
        get
        {
            Get(frame, out CapturedFrame captured);
            return captured;
        }
    }

    /// <summary>A frame, written in place; its octets are valid until <see cref="Clear"/>.</summary>
    public void Get(int frame, out CapturedFrame captured)
    {
        ref readonly Raw raw = ref _frames[frame];
        captured = default;
        captured.Receiver = raw.Receiver;
        captured.LinkType = raw.LinkType;
        captured.TimeNs = raw.TimeNs;
        captured.OriginalLength = raw.OriginalLength;
        captured.FileOffset = raw.FileOffset;
        captured.Octets = _octets.AsSpan(raw.At, raw.Length);
        captured.Hci = raw.Hci;
        captured.MarkedCrcBad = raw.MarkedCrcBad;
    }

    public void Clear() => Count = _length = 0;

    public void Add(in CapturedFrame frame)
    {
        if (Count == _frames.Length)
            Grow(ref _frames, Count, 4 * Count);
        if (_length + frame.Octets.Length > _octets.Length)
            Grow(ref _octets, _length, Math.Max(_length + frame.Octets.Length, 4 * _octets.Length));
        frame.Octets.CopyTo(_octets.AsSpan(_length));
        ref Raw raw = ref _frames[Count++];
        raw.TimeNs = frame.TimeNs;
        raw.FileOffset = frame.FileOffset;
        raw.At = _length;
        raw.Length = frame.Octets.Length;
        raw.OriginalLength = frame.OriginalLength;
        raw.Receiver = frame.Receiver;
        raw.LinkType = frame.LinkType;
        raw.Hci = frame.Hci;
        raw.MarkedCrcBad = frame.MarkedCrcBad;
        _length += frame.Octets.Length;
    }

    private static void Grow<T>(ref T[] array, int used, int length) where T : struct
    {
        T[] larger = FreshArray.Of<T>(length);
        array.AsSpan(0, used).CopyTo(larger);
        array = larger;
    }
}
