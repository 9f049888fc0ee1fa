using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Contents;

/// <summary>A mesh content of a frame in a block, with its hash: found in the table of contents when the block is taken.</summary>
internal struct PreparedContent
{
    public ContentKey Key;
    public ulong Hash;

    /// <summary>Number of the frame in its block.</summary>
    public int Frame;
}

/// <summary>The packet counter that a receiver wrote into a frame.</summary>
internal readonly record struct PreparedCounter(int Receiver, ushort Counter, long TimeNs);

/// <summary>
/// Frames that follow each other, prepared as far as that depends on nothing but each of them: so blocks may be prepared on one core while another takes
/// them. Frames whose meaning depends on those before (packets of connections, lines of text logs) are kept as they came. Made to be used again.
/// </summary>
/// <param name="memory">Gives the rows of a whole block.</param>
internal sealed class FrameBlock(TableMemory memory)
{
    /// <summary>Frames of a block, at most.</summary>
    public const int MostFrames = ChunkedTable<FrameRow>.ChunkRows;

    /// <summary>A block with more octets takes no further frame: what waits stays small, whatever the frames.</summary>
    public const int EnoughOctets = 1 << 20;

    private const int FirstFrames = 256, FirstContents = 64;

    private Stretch<FrameRow> _rows = Stretch<FrameRow>.OfItsOwn(FirstFrames);
    private PreparedContent[] _contents = new PreparedContent[FirstContents];
    private readonly List<int> _keptNumbers = [];
    private readonly RawFrames _kept = new();

    /// <summary>Frames in it.</summary>
    public int Count { get; private set; }

    public int ContentCount { get; private set; }

    public Span<FrameRow> Rows => _rows.Rows[..Count];

    /// <summary>Gives the rows of a full block to the table of frames as they lie there; the block gets others.</summary>
    /// <returns>False if the table cannot take them as a whole: they are still here.</returns>
    public bool GiveRows(ChunkedTable<FrameRow> frames)
    {
        if (Count < MostFrames || !frames.TryAdopt(_rows))
            return false;
        _rows = default;
        return true;
    }

    public ReadOnlySpan<PreparedContent> Contents => _contents.AsSpan(0, ContentCount);

    public List<PreparedCounter> Counters { get; } = [];

    public int KeptCount => _kept.Count;

    /// <summary>Number, in this block, of a frame that was kept as it came.</summary>
    public int FrameOfKept(int kept) => _keptNumbers[kept];

    /// <summary>A frame that was kept; valid until the block is used again.</summary>
    public CapturedFrame Kept(int kept) => _kept[kept];

    public void Clear()
    {
        Count = ContentCount = 0;
        _keptNumbers.Clear();
        _kept.Clear();
        Counters.Clear();
    }

    /// <summary>The row of one more frame, to be written by the caller.</summary>
    public ref FrameRow Add()
    {
        if (Count == _rows.Length)
            GrowRows();
        return ref _rows[Count++];
    }

    /// <summary>Adds a content of the frame added last.</summary>
    public void Add(ContentKind kind, ReadOnlySpan<byte> octets)
    {
        if (ContentCount == _contents.Length)
            Array.Resize(ref _contents, ContentCount * 2);
        ref PreparedContent prepared = ref _contents[ContentCount++];
        ContentKey.Write(out prepared.Key, kind, octets);
        prepared.Hash = prepared.Key.Hash();
        prepared.Frame = Count - 1;
    }

    private void GrowRows()
    {
        Stretch<FrameRow> larger = _rows.Length == FirstFrames ? Stretch<FrameRow>.OfItsOwn(4 * FirstFrames) : memory.Take<FrameRow>(MostFrames);
        Rows.CopyTo(larger.Rows);
        _rows = larger;
    }

    /// <summary>Keeps the frame added last as it came, and forgets what was prepared of it.</summary>
    public void Keep(in CapturedFrame frame)
    {
        while (ContentCount > 0 && _contents[ContentCount - 1].Frame == Count - 1)
            ContentCount--;
        _keptNumbers.Add(Count - 1);
        _kept.Add(in frame);
    }
}
