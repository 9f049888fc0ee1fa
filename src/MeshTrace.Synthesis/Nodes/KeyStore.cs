using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>A NetKey and what is derived from it.</summary>
internal sealed record SubnetKeys(int Index, NetKeyMaterial Material);

/// <summary>What encrypts an access message: an AppKey (with its index) or the device key of a node.</summary>
internal sealed record AccessKey(AesKey Key, byte Aid, int? AppKeyIndex, MeshNode? DeviceKeyOf);

/// <summary>All keys of the network, expanded once.</summary>
internal sealed class KeyStore
{
    private readonly Dictionary<int, SubnetKeys> _subnets = [];
    private readonly Dictionary<int, (AccessKey Key, SubnetKeys Subnet)> _appKeys = [];

    internal KeyStore(NetworkPlan network)
    {
        foreach (NetKeyPlan plan in network.NetKeys)
            _subnets[plan.Index] = new SubnetKeys(plan.Index, new NetKeyMaterial(plan.Key));
        foreach (AppKeyPlan plan in network.AppKeys)
        {
            var material = new AppKeyMaterial(plan.Key);
            _appKeys[plan.Index] = (new AccessKey(material.Key, material.Aid, plan.Index, null), _subnets[plan.NetKey]);
        }
    }

    internal SubnetKeys Subnet(int index) => _subnets[index];

    /// <summary>True unless an AppKey is used in a subnet that it is not bound to.</summary>
    internal bool IsBound(AccessKey key, SubnetKeys subnet) =>
        key.AppKeyIndex is not { } index || _appKeys[index].Subnet.Index == subnet.Index;

    internal bool TryFindAppKey(int index, out AccessKey key, out SubnetKeys subnet)
    {
        bool found = _appKeys.TryGetValue(index, out var entry);
        (key, subnet) = entry;
        return found;
    }
}
