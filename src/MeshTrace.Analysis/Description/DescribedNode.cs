using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>A node as the provisioning program believes it to be (Mesh Configuration Database Profile 1.0.1, Node object).</summary>
/// <remarks>Null always means that the file does not say; an absent member is never read as "no" or 0.</remarks>
public sealed class DescribedNode
{
    /// <summary>Device UUID: the one in the unprovisioned device beacon.</summary>
    public Guid? Uuid { get; init; }

    /// <summary>As written, with whatever characters it holds.</summary>
    public string? Name { get; init; }

    /// <summary>Address of the primary element.</summary>
    public required MeshAddress Unicast { get; init; }

    /// <summary>Without it the node's Config messages stay unread.</summary>
    public KeyOctets? DeviceKey { get; init; }

    /// <summary>True if it was provisioned with the public key given out of band.</summary>
    public bool? SecurelyProvisioned { get; init; }

    /// <summary>Subnets that the node knows.</summary>
    public IReadOnlyList<DescribedNodeKey>? NetKeys { get; init; }

    /// <summary>AppKeys that the node has; a model can bind only these.</summary>
    public IReadOnlyList<DescribedNodeKey>? AppKeys { get; init; }

    /// <summary>False: the configuration was interrupted.</summary>
    public bool? ConfigComplete { get; init; }

    /// <summary>Company identifier (Composition Data Page 0).</summary>
    public ushort? Cid { get; init; }

    /// <summary>Product identifier (Composition Data Page 0).</summary>
    public ushort? Pid { get; init; }

    /// <summary>Product version identifier (Composition Data Page 0).</summary>
    public ushort? Vid { get; init; }

    /// <summary>Least number of replay protection list entries (Composition Data Page 0).</summary>
    public ushort? Crpl { get; init; }

    public DescribedFeatures Features { get; init; } = DescribedFeatures.Unknown;
    public bool? SecureNetworkBeacon { get; init; }

    /// <summary>Default TTL: 0 or 2-127.</summary>
    public int? DefaultTtl { get; init; }

    public DescribedTransmit? NetworkTransmit { get; init; }
    public DescribedTransmit? RelayRetransmit { get; init; }

    /// <summary>Empty if the composition was never read: the number of elements is then unknown, not 0.</summary>
    public required IReadOnlyList<DescribedElement> Elements { get; init; }

    /// <summary>Number of elements (highest element index + 1), or null where the composition was never read.</summary>
    public int? ElementCount => Elements.Count == 0 ? null : Elements.Max(element => element.Index) + 1;

    /// <summary>True: the node is being removed and gets no new keys.</summary>
    public bool Excluded { get; init; }

    public DescribedHeartbeatPublication? HeartbeatPublication { get; init; }
    public DescribedHeartbeatSubscription? HeartbeatSubscription { get; init; }

    /// <summary>Addresses that a provisioner's node listens to.</summary>
    public IReadOnlyList<DescribedAddress> KnownAddresses { get; init; } = [];

    /// <summary>The element with an address, or null.</summary>
    public DescribedElement? ElementAt(MeshAddress address) => Elements.FirstOrDefault(element => element.Address == address);
}
