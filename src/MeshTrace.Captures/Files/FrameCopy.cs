using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>A frame with octets of its own, so that it outlives the source's next one. Made to be used again.</summary>
public sealed class FrameCopy
{
    private byte[] _octets = new byte[64];
    private int _length, _originalLength, _receiver;
    private LinkType _linkType;
    private long _fileOffset;
    private HciKind _hci;
    private bool _markedCrcBad;

    /// <summary>Octets held.</summary>
    public int Length => _length;

    /// <summary>When the frame was received, in ns since 1970; may be set right.</summary>
    public long TimeNs { get; set; }

    /// <summary>Takes a frame in the place of the one before.</summary>
    /// <param name="frame">The frame.</param>
    /// <param name="receiver">Its receiver's number from now on.</param>
    public void Take(scoped in CapturedFrame frame, int receiver)
    {
        if (_octets.Length < frame.Octets.Length)
            _octets = new byte[Math.Max(frame.Octets.Length, _octets.Length * 2)];
        frame.Octets.CopyTo(_octets);
        (_length, _originalLength, _receiver, _linkType) = (frame.Octets.Length, frame.OriginalLength, receiver, frame.LinkType);
        (TimeNs, _fileOffset, _hci, _markedCrcBad) = (frame.TimeNs, frame.FileOffset, frame.Hci, frame.MarkedCrcBad);
    }

    /// <summary>The frame; valid until another one is taken.</summary>
    public CapturedFrame Frame() => new()
    {
        Receiver = _receiver, LinkType = _linkType, TimeNs = TimeNs, OriginalLength = _originalLength, FileOffset = _fileOffset,
        Octets = _octets.AsSpan(0, _length), Hci = _hci, MarkedCrcBad = _markedCrcBad,
    };
}
