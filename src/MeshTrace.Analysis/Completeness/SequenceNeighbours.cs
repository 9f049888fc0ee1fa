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

    /// <summary>Rows of the floods of each node and of each element, in order of time.</summary>
    private readonly Dictionary<ushort, List<int>> _byNode = [], _byElement = [];
    private readonly Dictionary<ushort, bool> _shared = [];

    /// <param name="history">Its floods are gone over once.</param>
    /// <param name="nodes">Primary addresses of the nodes that will be asked about.</param>
    public SequenceNeighbours(CaptureHistory history, IEnumerable<MeshAddress> nodes)
    {
        _history = history;
        foreach (MeshAddress node in nodes)
            _byNode.TryAdd(node.Value, []);
        for (int row = 0; row < history.Floods.Count && _byNode.Count > 0; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.FirstTimeNs == CapturedFrame.NoTime || flood.Credentials != Credentials.Flooding
                || !_byNode.TryGetValue(history.Directory.NodeOf(flood.Src).Value, out List<int>? own))
                continue;
            own.Add(row);
            if (!_byElement.TryGetValue(flood.Src.Value, out List<int>? ofElement))
                _byElement.Add(flood.Src.Value, ofElement = []);
            ofElement.Add(row);
        }
        foreach (List<int> own in _byNode.Values.Concat(_byElement.Values))
            own.Sort((left, right) => history.Floods[left].FirstTimeNs.CompareTo(history.Floods[right].FirstTimeNs));
    }

    /// <summary>Rows of the last flood of a node before a time and of the first one behind it, and whether one was first heard within.</summary>
    public (int? Before, int? After, bool Within) Around(MeshAddress node, long fromNs, long toNs)
    {
        if (!_byNode.TryGetValue(node.Value, out List<int>? floods))
            return (null, null, false);
        int first = FirstFrom(floods, fromNs), behind = FirstFrom(floods, toNs + 1);
        return (first > 0 ? floods[first - 1] : null, behind < floods.Count ? floods[behind] : null, behind > first);
    }

    /// <summary>When the last flood with an element's numbers was first heard within a time, or null where none was.</summary>
    public long? LastWithin(MeshAddress element, long fromNs, long toNs)
    {
        if (NumberedWith(element) is not { } floods)
            return null;
        int behind = FirstFrom(floods, toNs + 1);
        return behind > 0 && _history.Floods[floods[behind - 1]].FirstTimeNs is var timeNs && timeNs >= fromNs ? timeNs : null;
    }

    /// <summary>
    /// Numbers that a node used and nobody heard between its last flood before a time and its first one behind it; null where it cannot be told: one of
    /// the two is missing, the IV index changed, the number went back, or it jumped as after a power cut.
    /// </summary>
    public int? UnheardOfNode(MeshAddress node, long fromNs, long toNs)
    {
        if (!_byNode.TryGetValue(node.Value, out List<int>? floods) || floods.Count == 0)
            return null;
        if (SharesNumbers(node))
            return Unheard(floods, fromNs, toNs);
        int sum = 0;        // each element counts for itself
        foreach (ushort element in floods.Select(row => _history.Floods[row].Src.Value).Distinct())
        {
            if (Unheard(_byElement[element], fromNs, toNs) is not { } unheard)
                return null;
            sum += unheard;
        }
        return sum;
    }

    /// <summary>As <see cref="UnheardOfNode"/>, for what one element may have sent.</summary>
    public int? UnheardOfElement(MeshAddress element, long fromNs, long toNs) =>
        NumberedWith(element) is { } floods ? Unheard(floods, fromNs, toNs) : null;

    private List<int>? NumberedWith(MeshAddress element)
    {
        MeshAddress node = _history.Directory.NodeOf(element);
        return SharesNumbers(node) ? _byNode.GetValueOrDefault(node.Value) : _byElement.GetValueOrDefault(element.Value);
    }

    private int? Unheard(List<int> floods, long fromNs, long toNs)
    {
        int first = FirstFrom(floods, fromNs), behind = FirstFrom(floods, toNs + 1);
        if (first == 0 || behind == floods.Count)
            return null;
        ref FloodRow earlier = ref _history.Floods[floods[first - 1]], later = ref _history.Floods[floods[behind]];
        if (earlier.IvIndex != later.IvIndex || later.Seq <= earlier.Seq)
            return null;
        int heard = 0;
        for (int at = first; at < behind; at++)
            if (_history.Floods[floods[at]] is var flood && flood.Seq > earlier.Seq && flood.Seq < later.Seq)
                heard++;
        int unheard = Math.Max(0, (int)(later.Seq - earlier.Seq - 1) - heard);
        return unheard > HeardShares.LongestSkip ? null : unheard;
    }

    /// <summary>
    /// Elements of a node may share one sequence of numbers or have their own (Mesh Protocol 1.1 §3.8.3): a number used by two tells that they have their own, and so
    /// does one that is lower than another element's of some time before.
    /// </summary>
    private bool SharesNumbers(MeshAddress node)
    {
        if (_shared.TryGetValue(node.Value, out bool shares))
            return shares;
        shares = true;
        var users = new Dictionary<(uint IvIndex, uint Seq), MeshAddress>();
        var highest = new Dictionary<MeshAddress, (uint IvIndex, uint Seq, long TimeNs)>();
        foreach (int row in _byNode.GetValueOrDefault(node.Value) ?? [])
        {
            ref FloodRow flood = ref _history.Floods[row];
            if (!users.TryAdd((flood.IvIndex, flood.Seq), flood.Src))
                shares &= users[(flood.IvIndex, flood.Seq)] == flood.Src;
            foreach ((MeshAddress element, (uint IvIndex, uint Seq, long TimeNs) last) in highest)
                shares &= element == flood.Src || flood.IvIndex != last.IvIndex || flood.Seq > last.Seq || flood.FirstTimeNs - last.TimeNs < OvertakenNs;
            highest[flood.Src] = (flood.IvIndex, flood.Seq, flood.FirstTimeNs);
        }
        _shared.Add(node.Value, shares);
        return shares;
    }

    /// <summary>Place of the first flood at or behind a time.</summary>
    private int FirstFrom(List<int> floods, long timeNs)
    {
        int low = 0, high = floods.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_history.Floods[floods[middle]].FirstTimeNs < timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }
}
