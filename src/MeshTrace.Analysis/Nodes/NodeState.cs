using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Nodes;

/// <summary>What is known of a node's configuration at one time, statement by statement with its origin.</summary>
public sealed class NodeState
{
    private readonly Dictionary<ModelInstance, ClaimSet<int>> _bindings = [];
    private readonly Dictionary<ModelInstance, ClaimSet<MeshAddress>> _subscriptions = [];
    private readonly Dictionary<ModelInstance, Known<PublicationState>> _publications = [];
    private readonly Dictionary<int, Known<int>> _phases = [];

    /// <summary>What is stated about lists of models of which nothing was said by name.</summary>
    private KnownFrom _listsFrom;

    internal NodeState(MeshAddress unicast) => Unicast = unicast;

    /// <summary>Primary address.</summary>
    public MeshAddress Unicast { get; }

    /// <summary>It was reset, or is not provisioned yet: it has no key at all.</summary>
    public Claim OutOfNetwork { get; internal set; } = Claim.Unknown;

    /// <summary>NetKey indexes that it has.</summary>
    public ClaimSet<int> NetKeys { get; } = new();

    /// <summary>AppKey indexes that it has.</summary>
    public ClaimSet<int> AppKeys { get; } = new();

    /// <summary>NetKey indexes of which it got the new key in a key refresh.</summary>
    public ClaimSet<int> NetKeysUpdated { get; } = new();

    /// <summary>Models on its elements.</summary>
    public ClaimSet<ModelInstance> Models { get; } = new();

    /// <summary>Number of elements, or null where unknown.</summary>
    public int? Elements { get; internal set; }
    public Known<FeatureState> Relay { get; internal set; }
    public Known<FeatureState> Proxy { get; internal set; }
    public Known<FeatureState> Friend { get; internal set; }
    public Known<FeatureState> LowPower { get; internal set; }
    public Known<bool> SecureNetworkBeacon { get; internal set; }

    /// <summary>0 or 2-127.</summary>
    public Known<int> DefaultTtl { get; internal set; }

    /// <summary>Counted in transmissions.</summary>
    public Known<DescribedTransmit?> NetworkTransmit { get; internal set; }

    /// <summary>Counted in transmissions.</summary>
    public Known<DescribedTransmit?> RelayRetransmit { get; internal set; }

    /// <summary>Least number of sources its replay protection list holds (crpl of Composition Data Page 0).</summary>
    public Known<int> ReplayListSize { get; internal set; }

    /// <summary>Where its heartbeats go; unassigned: nowhere.</summary>
    public Known<DescribedAddress> HeartbeatPublication { get; internal set; }

    /// <summary>The models on one element.</summary>
    public IEnumerable<ModelInstance> ModelsOn(MeshAddress element) => Models.Members.Where(model => model.Element == element);

    /// <summary>AppKey indexes bound to a model.</summary>
    public ClaimSet<int> BindingsOf(ModelInstance model) => Entry(_bindings, model);

    /// <summary>Subscription list of a model, virtual addresses by their 16 bits.</summary>
    public ClaimSet<MeshAddress> SubscriptionsOf(ModelInstance model) => Entry(_subscriptions, model);

    /// <summary>Model Publication state; an unassigned address: it does not publish.</summary>
    public Known<PublicationState> PublicationOf(ModelInstance model) => _publications.TryGetValue(model, out Known<PublicationState> known) ? known : default;

    /// <summary>Every model with a publication that names an address.</summary>
    public IEnumerable<(ModelInstance Model, Known<PublicationState> Publication)> Publications =>
        _publications.Where(pair => pair.Value.Value is { } state && state.Address.Address != MeshAddress.Unassigned).Select(pair => (pair.Key, pair.Value));

    /// <summary>Models of which a subscription list or a binding is stated.</summary>
    public IEnumerable<ModelInstance> ConfiguredModels => _bindings.Keys.Union(_subscriptions.Keys).Union(_publications.Keys);

    /// <summary>Key Refresh Phase of a NetKey: 0, 1 or 2.</summary>
    public Known<int> PhaseOf(int netKeyIndex) => _phases.GetValueOrDefault(netKeyIndex);

    internal void SetPublication(ModelInstance model, Known<PublicationState> publication) => _publications[model] = publication;
    internal void SetPhase(int netKeyIndex, Known<int> phase) => _phases[netKeyIndex] = phase;

    /// <summary>A node fresh from provisioning has one NetKey and nothing else (Mesh Protocol 1.1 §5.4.2.5, §4.2).</summary>
    internal void Begin(int netKeyIndex)
    {
        NetKeys.SetAll([netKeyIndex], KnownFrom.Confirmed, -1);
        AppKeys.SetAll([], KnownFrom.FreshFromProvisioning, -1);
        NetKeysUpdated.SetAll([], KnownFrom.FreshFromProvisioning, -1);
        _bindings.Clear();
        _subscriptions.Clear();
        _publications.Clear();
        _phases.Clear();
        _listsFrom = KnownFrom.FreshFromProvisioning;
        OutOfNetwork = Claim.Unknown;
    }

    private ClaimSet<T> Entry<T>(Dictionary<ModelInstance, ClaimSet<T>> table, ModelInstance model) where T : notnull
    {
        if (table.TryGetValue(model, out ClaimSet<T>? set))
            return set;
        table.Add(model, set = new ClaimSet<T>());
        if (_listsFrom != KnownFrom.Nothing)
            set.SetAll([], _listsFrom, -1);
        return set;
    }
}
