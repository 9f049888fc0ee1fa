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

    /// <summary>A frame but for its octets, which begin at <paramref name="At"/>.</summary>
    private readonly record struct Raw(long TimeNs, long FileOffset, int At, int Length, int OriginalLength, int Receiver, LinkType LinkType, HciKind Hci, bool MarkedCrcBad);

    /// <summary>Frames in it.</summary>
    public int Count { get; private set; }

    /// <summary>A frame; its octets are valid until <see cref="Clear"/>.</summary>
    public CapturedFrame this[int frame]
    {
        get
        {
            ref readonly Raw raw = ref _frames[frame];
            return new CapturedFrame
            {
                Receiver = raw.Receiver, LinkType = raw.LinkType, TimeNs = raw.TimeNs, OriginalLength = raw.OriginalLength, FileOffset = raw.FileOffset,
                Octets = _octets.AsSpan(raw.At, raw.Length), Hci = raw.Hci, MarkedCrcBad = raw.MarkedCrcBad,
            };
        }
    }

    public void Clear() => Count = _length = 0;

    public void Add(in CapturedFrame frame)
    {
        if (Count == _frames.Length)
            Grow(ref _frames, Count, 4 * Count);
        if (_length + frame.Octets.Length > _octets.Length)
            Grow(ref _octets, _length, Math.Max(_length + frame.Octets.Length, 4 * _octets.Length));
        frame.Octets.CopyTo(_octets.AsSpan(_length));
        _frames[Count++] = new Raw(frame.TimeNs, frame.FileOffset, _length, frame.Octets.Length, frame.OriginalLength, frame.Receiver, frame.LinkType, frame.Hci, frame.MarkedCrcBad);
        _length += frame.Octets.Length;
    }

    private static void Grow<T>(ref T[] array, int used, int length) where T : struct
    {
        T[] larger = FreshArray.Of<T>(length);
        array.AsSpan(0, used).CopyTo(larger);
        array = larger;
    }
}
