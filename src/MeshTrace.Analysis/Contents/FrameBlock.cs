using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Contents;

/// <summary>A mesh content of a frame in a block, with its hash: found in the table of contents when the block is taken.</summary>
internal readonly struct PreparedContent(ContentKey key, int frame)
{
    public readonly ContentKey Key = key;
    public readonly ulong Hash = key.Hash();

    /// <summary>Number of the frame in its block.</summary>
    public readonly int Frame = frame;
}

/// <summary>The packet counter that a receiver wrote into a frame.</summary>
internal readonly record struct PreparedCounter(int Receiver, ushort Counter, long TimeNs);

/// <summary>
/// Frames that follow each other, prepared as far as that depends on nothing but each of them: so blocks may be prepared on one core while another takes
/// them. Frames whose meaning depends on those before (packets of connections, lines of text logs) are kept as they came. Made to be used again.
/// </summary>
internal sealed class FrameBlock
{
    /// <summary>Frames of a block, at most.</summary>
    public const int MostFrames = 4_096;

    /// <summary>A block with more octets of kept frames takes no further frame: what waits stays small, whatever the frames.</summary>
    private const int EnoughKeptOctets = 1 << 20;

    private const int FirstFrames = 256, FirstContents = 64;

    private FrameRow[] _rows = new FrameRow[FirstFrames];
    private PreparedContent[] _contents = new PreparedContent[FirstContents];
    private readonly List<KeptFrame> _kept = [];
    private byte[] _keptOctets = [];
    private int _keptLength;

    /// <summary>A frame as it came, but for its octets.</summary>
    private readonly record struct KeptFrame(int Frame, int Receiver, LinkType LinkType, long TimeNs, int OriginalLength, long FileOffset, HciKind Hci, bool MarkedCrcBad, int At, int Length);

    /// <summary>Frames in it.</summary>
    public int Count { get; private set; }

    public int ContentCount { get; private set; }

    public bool TakesMore => Count < MostFrames && _keptLength < EnoughKeptOctets;

    public Span<FrameRow> Rows => _rows.AsSpan(0, Count);

    public ReadOnlySpan<PreparedContent> Contents => _contents.AsSpan(0, ContentCount);

    public List<PreparedCounter> Counters { get; } = [];

    public int KeptCount => _kept.Count;

    /// <summary>Number, in this block, of a frame that was kept as it came.</summary>
    public int FrameOfKept(int kept) => _kept[kept].Frame;

    /// <summary>A frame that was kept; valid until the block is used again.</summary>
    public CapturedFrame Kept(int kept)
    {
        KeptFrame frame = _kept[kept];
        return new CapturedFrame
        {
            Receiver = frame.Receiver, LinkType = frame.LinkType, TimeNs = frame.TimeNs, OriginalLength = frame.OriginalLength, FileOffset = frame.FileOffset,
            Octets = _keptOctets.AsSpan(frame.At, frame.Length), Hci = frame.Hci, MarkedCrcBad = frame.MarkedCrcBad,
        };
    }

    public void Clear()
    {
        Count = ContentCount = _keptLength = 0;
        _kept.Clear();
        Counters.Clear();
    }

    /// <summary>The row of one more frame, to be written by the caller.</summary>
    public ref FrameRow Add()
    {
        if (Count == _rows.Length)
            Array.Resize(ref _rows, Count * 4);
        return ref _rows[Count++];
    }

    /// <summary>Adds a content of the frame added last.</summary>
    public void Add(ContentKind kind, ReadOnlySpan<byte> octets)
    {
        if (ContentCount == _contents.Length)
            Array.Resize(ref _contents, ContentCount * 2);
        _contents[ContentCount++] = new PreparedContent(ContentKey.Of(kind, octets), Count - 1);
    }

    /// <summary>Keeps the frame added last as it came, and forgets what was prepared of it.</summary>
    public void Keep(in CapturedFrame frame)
    {
        while (ContentCount > 0 && _contents[ContentCount - 1].Frame == Count - 1)
            ContentCount--;
        if (_keptLength + frame.Octets.Length > _keptOctets.Length)
            Array.Resize(ref _keptOctets, Math.Max(_keptLength + frame.Octets.Length, 2 * _keptOctets.Length));
        frame.Octets.CopyTo(_keptOctets.AsSpan(_keptLength));
        _kept.Add(new KeptFrame(Count - 1, frame.Receiver, frame.LinkType, frame.TimeNs, frame.OriginalLength, frame.FileOffset, frame.Hci, frame.MarkedCrcBad, _keptLength, frame.Octets.Length));
        _keptLength += frame.Octets.Length;
    }
}
