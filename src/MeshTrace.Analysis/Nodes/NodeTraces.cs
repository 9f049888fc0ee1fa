using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Nodes;

/// <summary>What a node's own messages show of it: IV index over time, NetKeys and AppKeys it uses.</summary>
public sealed class NodeTraces
{
    private readonly Dictionary<ushort, NodeTrace> _nodes = [];

    internal NodeTraces(CaptureHistory history)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !flood.Src.IsUnicast)
                continue;
            NodeTrace node = Entry(history.Directory.NodeOf(flood.Src));
            node.AddSubnet(flood.Subnet);
            if (flood.FirstTimeNs != CapturedFrame.NoTime)
                node.AddIvIndex(flood.FirstTimeNs, flood.IvIndex, row);
        }
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.AppKey >= 0)
                Entry(history.Directory.NodeOf(message.Src)).AddAppKey(message.AppKey);
        }
    }

    /// <summary>True if the node sent under this NetKey (row in <see cref="Keys.KeyRing.Subnets"/>).</summary>
    public bool UsesSubnet(MeshAddress node, int subnet) => Of(node).UsesSubnet(subnet);

    /// <summary>True if the node sent under this AppKey (row in <see cref="Keys.KeyRing.AppKeys"/>).</summary>
    public bool UsesAppKey(MeshAddress node, int appKey) => Of(node).UsesAppKey(appKey);

    /// <summary>IV index of the last flood that the node sent up to a time, and of the first one from then on.</summary>
    public ((uint IvIndex, int Flood)? Before, (uint IvIndex, int Flood)? After) IvIndexAround(MeshAddress node, long timeNs) => Of(node).IvIndexAround(timeNs);

    /// <summary>Of one node; of one that sent nothing, none.</summary>
    internal NodeTrace Of(MeshAddress node) => _nodes.TryGetValue(node.Value, out NodeTrace? trace) ? trace : NodeTrace.None;

    private NodeTrace Entry(MeshAddress node)
    {
        if (!_nodes.TryGetValue(node.Value, out NodeTrace? trace))
            _nodes.Add(node.Value, trace = new NodeTrace());
        return trace;
    }
}
