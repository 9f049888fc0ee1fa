using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>What one element sends to one address: mostly with one TTL.</summary>
internal struct FloodStream
{
    /// <summary>Row in <see cref="FloodStreams.NodeAt"/>.</summary>
    public int Node;

    /// <summary>TTLs that settings name, as bits; 0 where none is known.</summary>
    public UInt128 KnownTtls;
    public byte HighestKnown;

    /// <summary>Highest TTL heard of any of its floods.</summary>
    public byte HighestHeard;

    /// <summary>Floods with one address at that TTL, and with several.</summary>
    public int AloneAtHighest, SharedAtHighest;

    /// <summary>Highest TTL at which a copy was certainly relayed: the original had more. 0 where there is none.</summary>
    public byte HighestRelayed;

    /// <summary>Highest TTL at which the originator itself was heard; 255 where it was not.</summary>
    public byte HeardOriginal;

    public readonly bool Knows(byte ttl) => (KnownTtls & (UInt128.One << ttl)) != 0;
}

/// <summary>Sorts the floods by SRC, DST and CTL, and numbers the nodes that sent them.</summary>
internal sealed class FloodStreams
{
    /// <summary>Output filter: nothing leaves its originator with TTL 1, so a copy with it was relayed (Mesh Protocol 1.1 §3.4.5.2).</summary>
    public const byte AlwaysRelayed = 1;

    /// <summary>A PDU with TTL 0 is not relayed, so a copy with it is the original (§3.4.4).</summary>
    public const byte NeverRelayed = 0;

    public const byte NotHeard = 255;

    private readonly int[] _ofFlood;
    private readonly List<MeshAddress> _nodes = [];
    private readonly Dictionary<ushort, int> _nodeRows = [];
    private FloodStream[] _streams = new FloodStream[64];

    public FloodStreams(CaptureHistory history, NodeDirectory directory, RadioSettings settings)
    {
        _ofFlood = new int[history.Floods.Count];
        var rows = new Dictionary<ulong, int>();
        for (int flood = 0; flood < _ofFlood.Length; flood++)
        {
            ref FloodRow row = ref history.Floods[flood];
            ulong key = ((ulong)row.Src.Value << 32) | ((ulong)row.Dst.Value << 16) | (row.Ctl ? 1ul : 0);
            if (!rows.TryGetValue(key, out int stream))
                rows.Add(key, stream = Add(row.Src, row.Dst, row.Ctl, directory, settings));
            _ofFlood[flood] = stream;
            if (row.Credentials == Credentials.Flooding && row.TellsTtl)
                _streams[stream].HighestHeard = Math.Max(_streams[stream].HighestHeard, row.TtlHigh);
        }
    }

    public int Count { get; private set; }
    public int Nodes => _nodes.Count;

    public ref FloodStream this[int stream] => ref _streams[stream];

    public MeshAddress NodeAt(int row) => _nodes[row];

    public int Of(int flood) => _ofFlood[flood];

    private int Add(MeshAddress src, MeshAddress dst, bool ctl, NodeDirectory directory, RadioSettings settings)
    {
        if (Count == _streams.Length)
            Array.Resize(ref _streams, Count * 2);
        MeshAddress node = directory.NodeOf(src);
        if (!_nodeRows.TryGetValue(node.Value, out int nodeRow))
        {
            nodeRow = _nodes.Count;
            _nodes.Add(node);
            _nodeRows.Add(node.Value, nodeRow);
        }
        UInt128 known = settings.OriginalTtls(src, dst, ctl);
        _streams[Count] = new FloodStream
        {
            Node = nodeRow, KnownTtls = known, HighestKnown = known == 0 ? (byte)0 : (byte)UInt128.Log2(known), HeardOriginal = NotHeard,
        };
        return Count++;
    }
}
