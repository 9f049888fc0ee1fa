using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>
/// Leads a key refresh (Mesh Protocol 1.1 §3.11.4): hands out the new keys node by node, then moves the network to phase 2 and 3, by
/// Config Key Refresh Phase Set or by its own beacon alone. A node that does not answer is left behind.
/// </summary>
internal sealed class KeyRefreshClient
{
    private readonly MeshWorld _world;
    private readonly MeshNode _client;
    private readonly KeyRefreshPlan _plan;
    private readonly SubnetKeys _netKey;
    private readonly Dictionary<int, (AppKeyPlan Plan, AccessKey Key)> _appKeys = [];

    private KeyRefreshClient(MeshWorld world, KeyRefreshPlan plan)
    {
        (_world, _plan, _client) = (world, plan, world.Named(plan.Node));
        _netKey = new SubnetKeys(plan.NetKey, new NetKeyMaterial(plan.NewNetKey));
        foreach (AppKeyPlan key in plan.NewAppKeys)
        {
            var material = new AppKeyMaterial(key.Key);
            _appKeys[key.Index] = (key, new AccessKey(material.Key, material.Aid, key.Index, null));
        }
    }

    internal static void Start(MeshWorld world, KeyRefreshPlan plan) => new KeyRefreshClient(world, plan).HandOut();

    private void HandOut()
    {
        _client.UpdateNetKey(_netKey);
        foreach (var (_, key) in _appKeys.Values)
            _client.UpdateAppKey(key);
        Each(0, target =>
            [
                ConfigurationSteps.NetKeyUpdate(_netKey),
                .. target.Plan.AppKeys.Where(_appKeys.ContainsKey).Select(index => ConfigurationSteps.AppKeyUpdate(_appKeys[index].Plan, _appKeys[index].Key)),
            ],
            () => _world.Time.After(_plan.Phase2AfterUs, () => Transit(2, () => _world.Time.After(_plan.Phase3AfterUs, () => Transit(3, null)))));
    }

    /// <summary>The client goes first: from then on its beacon tells of the step, and it sends with the new key.</summary>
    private void Transit(int transition, Action? then)
    {
        _client.SetKeyRefreshPhase(_plan.NetKey, transition);
        // from now on a node that joins is given the new AppKeys
        List<AppKeyPlan> handedOut = _world.Actual.Network.AppKeys;
        for (int i = 0; i < handedOut.Count; i++)
            handedOut[i] = _appKeys.TryGetValue(handedOut[i].Index, out var fresh) ? fresh.Plan : handedOut[i];
        if (_plan.ByBeacon)
            then?.Invoke();
        else
            Each(0, _ => [ConfigurationSteps.KeyRefreshPhase(_plan.NetKey, transition)], then);
    }

    private void Each(int at, Func<MeshNode, List<ConfigurationStep>> steps, Action? then)
    {
        if (at == _plan.Targets.Count)
        {
            then?.Invoke();
            return;
        }
        MeshNode target = _world.Named(_plan.Targets[at]);
        ConfigurationClient.Start(_world, _client, target, steps(target), () => Each(at + 1, steps, then));
    }
}
