using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A node and the IV index that it sent with last.</summary>
/// <param name="Node">Primary address.</param>
/// <param name="First">IV index of its first flood.</param>
/// <param name="Last">IV index of its last flood.</param>
/// <param name="Flood">Row of the last flood.</param>
internal readonly record struct NodeIvIndex(MeshAddress Node, uint First, uint Last, int Flood);

/// <summary>The IV index with which the nodes of a subnet should send at the end of the capture, and who says so (Mesh Protocol 1.1 §3.11.5).</summary>
internal sealed class IvIndexInUse
{
    /// <summary>So many nodes at one index settle it (ours).</summary>
    public const int EnoughNodes = 2;

    public required IReadOnlyList<NodeIvIndex> Nodes { get; init; }
    public required uint IvIndex { get; init; }

    /// <summary>Row of the authenticated beacon that tells it, or -1: then most nodes do.</summary>
    public required int Beacon { get; init; }

    /// <summary>A beacon tells of an update to this index or the next one, or a node was heard to go on to it: those that send with one less are not late.</summary>
    public required bool MovedHere { get; init; }

    public int NodesWith(uint ivIndex) => Nodes.Count(node => node.Last == ivIndex);

    /// <summary>One row a subnet. Subnets are judged one by one: keys given by hand may belong to networks apart.</summary>
    public static IEnumerable<IvIndexInUse> Of(CaptureHistory history)
    {
        var groups = new Dictionary<int, List<NodeIvIndex>>();
        foreach (MeshAddress node in history.Nodes.Select(record => record.Unicast))
        {
            if (history.NodeTraces.IvIndexAround(node, long.MaxValue).Before is not { } last || history.NodeTraces.IvIndexAround(node, long.MinValue).After is not { } first)
                continue;
            int group = GroupOf(history.Keys, history.Floods[last.Flood].Subnet);
            if (!groups.TryGetValue(group, out List<NodeIvIndex>? nodes))
                groups.Add(group, nodes = []);
            nodes.Add(new NodeIvIndex(node, first.IvIndex, last.IvIndex, last.Flood));
        }
        foreach ((int group, List<NodeIvIndex> nodes) in groups)
            yield return Judge(history, group, nodes);
    }

    /// <summary>Both keys of a key refresh are one subnet.</summary>
    public static int GroupOf(KeyRing keys, int subnet)
    {
        if (keys.Subnets[subnet].NetKeyIndex is { } index)
            for (int row = 0; row < subnet; row++)
                if (keys.Subnets[row].NetKeyIndex == index)
                    return row;
        return subnet;
    }

    private static IvIndexInUse Judge(CaptureHistory history, int group, List<NodeIvIndex> nodes)
    {
        int latest = -1;
        for (int row = 0; row < history.Beacons.Count; row++)
            if (Tells(history, row, group) && (latest < 0 || IsLater(history.Beacons[row], history.Beacons[latest])))
                latest = row;
        IGrouping<uint, NodeIvIndex> most = nodes.GroupBy(node => node.Last).OrderByDescending(index => index.Count()).ThenByDescending(index => index.Key).First();
        // Nobody sends with an index that the network has not come to: where most are above the beacon, it is that of a node that stayed behind.
        if (latest >= 0 && most.Key > history.Beacons[latest].IvIndex && most.Count() >= EnoughNodes)
            latest = -1;
        uint inUse = latest < 0 ? most.Key
            : history.Beacons[latest] is { IvUpdate: true, IvIndex: > 0 and var coming } ? coming - 1 : history.Beacons[latest].IvIndex!.Value;
        bool update = history.Beacons.Where((_, row) => Tells(history, row, group)).Any(beacon => beacon.IvUpdate == true && beacon.IvIndex - (long)inUse is 0 or 1);
        return new IvIndexInUse { Nodes = nodes, IvIndex = inUse, Beacon = latest, MovedHere = update || nodes.Exists(node => node.First < inUse && node.Last == inUse) };
    }

    private static bool Tells(CaptureHistory history, int row, int group) =>
        history.Beacons[row] is { Authenticated: true, IvIndex: not null, Subnet: >= 0 and var subnet } && GroupOf(history.Keys, subnet) == group;

    /// <summary>The index never goes down; of one index, the flag goes from set to clear.</summary>
    private static bool IsLater(BeaconRecord one, BeaconRecord other) =>
        one.IvIndex != other.IvIndex ? one.IvIndex > other.IvIndex : one.IvUpdate == false && other.IvUpdate == true;

    /// <summary>True if somebody was heard to use the index, or to announce it, before a time.</summary>
    public bool UsedBefore(CaptureHistory history, long timeNs)
    {
        if (Beacon >= 0 && history.Beacons[Beacon].FirstTimeNs is not CapturedFrame.NoTime and var told && told < timeNs)
            return true;
        foreach (NodeIvIndex node in Nodes)
            if (history.NodeTraces.IvIndexAround(node.Node, timeNs).Before is { } before && before.IvIndex == IvIndex)
                return true;
        return false;
    }
}
