using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Completeness;

/// <summary>
/// What the sequence numbers of some nodes tell of a time: between the last flood before it and the first one behind it, how many numbers were used and
/// not heard. None tells that the node sent nothing else, however well or badly it is heard.
/// </summary>
internal sealed class SequenceNeighbours
{
    /// <summary>What is heard so long after another was sent after it (ours: relays and repetitions take less).</summary>
    private const long OvertakenNs = 2_000_000_000;

    private readonly CaptureHistory _history;
    private readonly Dictionary<ushort, NodeNumbers> _nodes = [];

    /// <param name="history">Its floods are gone over once.</param>
    /// <param name="nodes">Primary addresses of the nodes that will be asked about.</param>
    public SequenceNeighbours(CaptureHistory history, IEnumerable<MeshAddress> nodes)
    {
        _history = history;
        foreach (MeshAddress node in nodes)
            _nodes.TryAdd(node.Value, new NodeNumbers());
        for (int row = 0; row < history.Floods.Count && _nodes.Count > 0; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.FirstTimeNs == CapturedFrame.NoTime || flood.Credentials != Credentials.Flooding
                || !_nodes.TryGetValue(history.Directory.NodeOf(flood.Src).Value, out NodeNumbers? own))
                continue;
            own.Several |= own.Rows.Count > 0 && own.FirstSrc != flood.Src;
            if (own.Rows.Count == 0)
                own.FirstSrc = flood.Src;
            own.Rows.Add(row);
        }
        foreach (NodeNumbers own in _nodes.Values)
        {
            own.ByElement = own.Several ? own.Rows.GroupBy(row => history.Floods[row].Src).ToDictionary(element => element.Key, element => new NumberLine(history, [.. element])) : null;
            own.All = new NumberLine(history, own.Rows);
            own.Shares = !own.Several || SharesNumbers(own.All);
        }
    }

    /// <summary>Rows of the last flood of a node before a time and of the first one behind it, and whether one was first heard within.</summary>
    public (int? Before, int? After, bool Within) Around(MeshAddress node, long fromNs, long toNs)
    {
        if (!_nodes.TryGetValue(node.Value, out NodeNumbers? own))
            return (null, null, false);
        NumberLine line = own.All;
        int first = line.FirstFrom(fromNs, 0), behind = line.FirstFrom(toNs + 1, first);
        return (first > 0 ? line.Rows[first - 1] : null, behind < line.Rows.Count ? line.Rows[behind] : null, behind > first);
    }

    /// <summary>When the last flood with an element's numbers was first heard within a time, or null where none was.</summary>
    public long? LastWithin(MeshAddress element, long fromNs, long toNs)
    {
        if (LineOf(element) is not { } line)
            return null;
        int behind = line.FirstFrom(toNs + 1, 0);
        return behind > 0 && line.Times[behind - 1] is var timeNs && timeNs >= fromNs ? timeNs : null;
    }

    /// <summary>
    /// Numbers that a node used and nobody heard between its last flood before a time and its first one behind it; null where it cannot be told: one of
    /// the two is missing, the IV index changed, the number went back, or it jumped as after a power cut.
    /// </summary>
    public int? UnheardOfNode(MeshAddress node, long fromNs, long toNs)
    {
        if (!_nodes.TryGetValue(node.Value, out NodeNumbers? own) || own.All.Rows.Count == 0)
            return null;
        if (own.Shares)
            return own.All.Unheard(fromNs, toNs);
        int sum = 0;        // each element counts for itself
        foreach (NumberLine element in own.ByElement!.Values)
        {
            if (element.Unheard(fromNs, toNs) is not { } unheard)
                return null;
            sum += unheard;
        }
        return sum;
    }

    /// <summary>As <see cref="UnheardOfNode"/>, for what one element may have sent.</summary>
    public int? UnheardOfElement(MeshAddress element, long fromNs, long toNs) => LineOf(element)?.Unheard(fromNs, toNs);

    /// <summary>The numbers that an element uses: those of its whole node, or its own; null where none was heard.</summary>
    public NumberLine? LineOf(MeshAddress element) => !_nodes.TryGetValue(_history.Directory.NodeOf(element).Value, out NodeNumbers? own) ? null
        : own.Shares ? own.All : own.ByElement!.GetValueOrDefault(element);

    /// <summary>
    /// Elements of a node may share one sequence of numbers or have their own (Mesh Protocol 1.1 §3.8.3): a number used by two tells that they have their own, and so
    /// does one that is lower than another element's of some time before.
    /// </summary>
    private bool SharesNumbers(NumberLine all)
    {
        var users = new Dictionary<(uint IvIndex, uint Seq), MeshAddress>();
        var highest = new Dictionary<MeshAddress, (uint IvIndex, uint Seq, long TimeNs)>();
        foreach (int row in all.Rows)
        {
            ref FloodRow flood = ref _history.Floods[row];
            if (!users.TryAdd((flood.IvIndex, flood.Seq), flood.Src) && users[(flood.IvIndex, flood.Seq)] != flood.Src)
                return false;
            foreach ((MeshAddress element, (uint IvIndex, uint Seq, long TimeNs) last) in highest)
                if (element != flood.Src && flood.IvIndex == last.IvIndex && flood.Seq <= last.Seq && flood.FirstTimeNs - last.TimeNs >= OvertakenNs)
                    return false;
            highest[flood.Src] = (flood.IvIndex, flood.Seq, flood.FirstTimeNs);
        }
        return true;
    }

    /// <summary>What one node sent.</summary>
    private sealed class NodeNumbers
    {
        /// <summary>Rows of its floods, in the order heard, until they are in lines.</summary>
        public List<int> Rows { get; } = [];

        /// <summary>Source of the first of them.</summary>
        public MeshAddress FirstSrc { get; set; }

        /// <summary>Several elements sent: with one there is nothing to tell apart.</summary>
        public bool Several { get; set; }

        /// <summary>Its elements share one sequence of numbers.</summary>
        public bool Shares { get; set; }
        public NumberLine All { get; set; } = null!;

        /// <summary>By source; null where there is one only.</summary>
        public Dictionary<MeshAddress, NumberLine>? ByElement { get; set; }
    }
}
