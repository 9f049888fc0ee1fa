namespace MeshTrace.Synthesis.Nodes;

/// <summary>
/// The NetKeys and AppKeys that one node holds. While a key refresh runs (Mesh Protocol 1.1 §3.11.4) it holds two of each: both serve for
/// reception, the phase tells which one for sending.
/// </summary>
internal sealed class NodeKeys
{
    private readonly KeyStore _store;
    private readonly Dictionary<int, HeldNetKey> _nets = [];
    private readonly Dictionary<int, (AccessKey Current, AccessKey? New)> _apps = [];

    internal NodeKeys(KeyStore store, IEnumerable<int> netKeys)
    {
        _store = store;
        foreach (int index in netKeys)
            _nets[index] = new HeldNetKey(store.Subnet(index));
    }

    /// <summary>A node that has just been provisioned: one NetKey. AppKeys that it is given are those that its provisioner sends with.</summary>
    internal NodeKeys(KeyStore store, SubnetKeys first, NodeKeys provisioner)
    {
        _store = store;
        _nets[first.Index] = new HeldNetKey(first);
        foreach (var (index, held) in provisioner._apps)
            _apps[index] = (provisioner.Sending(held.Current), null);
    }

    /// <summary>True if it can open and check what is secured with the key.</summary>
    internal bool Holds(SubnetKeys subnet) =>
        _nets.TryGetValue(subnet.Index, out var held) && (ReferenceEquals(held.Current, subnet) || ReferenceEquals(held.New, subnet));

    /// <summary>Likewise an AppKey that has the index of one that the node knows.</summary>
    internal bool Holds(AccessKey key)
    {
        if (_apps.TryGetValue(key.AppKeyIndex!.Value, out var held))
            return ReferenceEquals(held.Current, key) || ReferenceEquals(held.New, key);
        return _store.TryFindAppKey(key.AppKeyIndex.Value, out var known, out _) && ReferenceEquals(known, key);
    }

    /// <summary>Key Refresh Phase state (§4.2.14): 0 normal, 1 or 2.</summary>
    internal int PhaseOf(int netKey) => _nets.TryGetValue(netKey, out var held) ? held.Phase : 0;

    /// <summary>The key to send with: the old one up to phase 1, the new one from phase 2 on.</summary>
    internal SubnetKeys Sending(int netKey) =>
        _nets.TryGetValue(netKey, out var held) ? held is { Phase: 2, New: { } fresh } ? fresh : held.Current : _store.Subnet(netKey);

    /// <summary>Likewise for an AppKey, by the phase of the NetKey that it is bound to; a device key stays what it is.</summary>
    internal AccessKey Sending(AccessKey key)
    {
        if (key.AppKeyIndex is not { } index || !_apps.TryGetValue(index, out var held) || !_store.TryFindAppKey(index, out _, out var subnet))
            return key;
        return held.New is not null && PhaseOf(subnet.Index) == 2 ? held.New : held.Current;
    }

    /// <summary>Config NetKey Update (§4.4.1.2.9): phase 1. False: the node does not hold a key of this index.</summary>
    internal bool Update(SubnetKeys fresh)
    {
        if (!_nets.TryGetValue(fresh.Index, out var held))
            return false;
        if (held.Phase == 0)
            (held.New, held.Phase) = (fresh, 1);
        return true;
    }

    /// <summary>Config AppKey Update.</summary>
    internal void Update(AccessKey fresh)
    {
        int index = fresh.AppKeyIndex!.Value;
        if (_apps.TryGetValue(index, out var held))
            _apps[index] = (held.Current, fresh);
        else if (_store.TryFindAppKey(index, out var known, out _))
            _apps[index] = (known, fresh);
    }

    /// <summary>Transition to phase 2, or by 3 to phase 0: the old keys are revoked (§4.2.14). False: not in the phase that it starts
    /// from.</summary>
    internal bool Transit(int netKey, int transition)
    {
        if (!_nets.TryGetValue(netKey, out var held) || held.New is null)
            return false;
        if (transition == 2)
        {
            bool steps = held.Phase == 1;
            held.Phase = 2;
            return steps;
        }
        (held.Current, held.New, held.Phase) = (held.New, null, 0);
        foreach (var (index, app) in _apps)
        {
            if (app.New is not null && _store.TryFindAppKey(index, out _, out var subnet) && subnet.Index == netKey)
                _apps[index] = (app.New, null);
        }
        return true;
    }

    /// <summary>True if the key is the one that comes: what it secures tells of phase 2 or 3.</summary>
    internal bool IsNew(SubnetKeys subnet) => _nets.TryGetValue(subnet.Index, out var held) && ReferenceEquals(held.New, subnet);

    private sealed class HeldNetKey(SubnetKeys current)
    {
        internal SubnetKeys Current { get; set; } = current;
        internal SubnetKeys? New { get; set; }
        internal int Phase { get; set; }
    }
}
