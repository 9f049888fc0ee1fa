using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Nodes;

/// <summary>What a node's own messages show of it: IV index over time, NetKeys and AppKeys it uses.</summary>
public sealed class NodeTraces
{
    private readonly Dictionary<ushort, List<(long TimeNs, uint IvIndex, int Flood)>> _ivIndexes = [];
    private readonly HashSet<(ushort Node, int Subnet)> _subnets = [];
    private readonly HashSet<(ushort Node, int AppKey)> _appKeys = [];

    internal NodeTraces(CaptureHistory history)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !flood.Src.IsUnicast)
                continue;
            ushort node = history.Directory.NodeOf(flood.Src).Value;
            _subnets.Add((node, flood.Subnet));
            if (flood.FirstTimeNs == CapturedFrame.NoTime)
                continue;
            if (!_ivIndexes.TryGetValue(node, out List<(long TimeNs, uint IvIndex, int Flood)>? seen))
                _ivIndexes.Add(node, seen = []);
            if (seen.Count < 2 || seen[^1].IvIndex != flood.IvIndex || seen[^2].IvIndex != flood.IvIndex)
                seen.Add((flood.FirstTimeNs, flood.IvIndex, row));
            else
                seen[^1] = (flood.FirstTimeNs, flood.IvIndex, row);     // first and last flood of a run are kept
        }
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.AppKey >= 0)
                _appKeys.Add((history.Directory.NodeOf(message.Src).Value, message.AppKey));
        }
    }

    /// <summary>True if the node sent under this NetKey (row in <see cref="Keys.KeyRing.Subnets"/>).</summary>
    public bool UsesSubnet(MeshAddress node, int subnet) => _subnets.Contains((node.Value, subnet));

    /// <summary>True if the node sent under this AppKey (row in <see cref="Keys.KeyRing.AppKeys"/>).</summary>
    public bool UsesAppKey(MeshAddress node, int appKey) => _appKeys.Contains((node.Value, appKey));

    /// <summary>IV index of the last flood that the node sent up to a time, and of the first one from then on.</summary>
    public ((uint IvIndex, int Flood)? Before, (uint IvIndex, int Flood)? After) IvIndexAround(MeshAddress node, long timeNs)
    {
        (uint, int)? before = null;
        if (_ivIndexes.TryGetValue(node.Value, out List<(long TimeNs, uint IvIndex, int Flood)>? seen))
        {
            foreach ((long at, uint ivIndex, int flood) in seen)
            {
                if (at >= timeNs)
                    return (before, (ivIndex, flood));
                before = (ivIndex, flood);
            }
        }
        return (before, null);
    }
}
