using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Nodes;

/// <summary>The configuration of every node over time, by the description and the Config messages heard.</summary>
public sealed class NodeModels
{
    private const long NsPerMs = 1_000_000;

    private readonly NodeDirectory _directory;
    private readonly ConfigurationHeard _heard;
    private readonly IReadOnlyList<ProvisioningLink> _provisionings;
    private readonly Dictionary<ushort, NodeModel> _models = [];

    internal NodeModels(NodeDirectory directory, ConfigurationHeard heard, IReadOnlyList<ProvisioningLink> provisionings)
    {
        _directory = directory;
        _heard = heard;
        _provisionings = provisionings;
    }

    /// <summary>The node that has an element; one of which nothing is known is an empty model.</summary>
    public NodeModel Of(MeshAddress element)
    {
        MeshAddress node = _directory.NodeOf(element);
        if (_models.TryGetValue(node.Value, out NodeModel? model))
            return model;
        DescribedNode? described = _directory.Description?.NodeAt(node);
        long? describedAt = _directory.Description?.Timestamp is { } time ? Math.Min(time.ToUnixTimeMilliseconds(), long.MaxValue / NsPerMs) * NsPerMs : null;
        model = new NodeModel(node, described, describedAt, _heard.OfNode(node), Provisioned(node, described));
        _models.Add(node.Value, model);
        return model;
    }

    /// <summary>Every node that the description names or that Config messages were heard about, lowest address first.</summary>
    public IEnumerable<NodeModel> All
    {
        get
        {
            IEnumerable<MeshAddress> described = _directory.Description?.Nodes.Select(node => node.Unicast) ?? [];
            IEnumerable<MeshAddress> provisioned = _provisionings.Where(link => link is { Outcome: ProvisioningOutcome.Complete, Unicast: not null }).Select(link => link.Unicast!.Value);
            return described.Union(_heard.Nodes).Union(provisioned).Order().Select(Of);
        }
    }

    /// <summary>When a node was heard to join: its address is in the provisioning data where they could be read, else the device UUID tells.</summary>
    private (long, int)? Provisioned(MeshAddress node, DescribedNode? described)
    {
        for (int i = _provisionings.Count - 1; i >= 0; i--)
        {
            ProvisioningLink link = _provisionings[i];
            if (link.Outcome != ProvisioningOutcome.Complete)
                continue;
            bool same = link.Unicast is { } unicast ? unicast == node : described?.Uuid is { } uuid && link.DeviceUuid == uuid;
            if (same)
                return (link.Pdus[^1].TimeNs, link.NetKeyIndex ?? 0);
        }
        return null;
    }
}
