using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Nodes;

/// <summary>Puts statements into a <see cref="NodeState"/>: those of the description, and those of the Config messages.</summary>
internal static class NodeStateBuilder
{
    public static void Describe(NodeState state, DescribedNode node)
    {
        const KnownFrom from = KnownFrom.Description;
        if (node.NetKeys is { } netKeys)
        {
            state.NetKeys.SetAll(netKeys.Select(key => key.Index), from, -1);
            state.NetKeysUpdated.SetAll(netKeys.Where(key => key.Updated).Select(key => key.Index), from, -1);
        }
        if (node.AppKeys is { } appKeys)
            state.AppKeys.SetAll(appKeys.Select(key => key.Index), from, -1);
        if (node.Elements.Count > 0)
        {
            state.Elements = node.ElementCount;
            state.Models.SetAll(node.Elements.SelectMany(element => element.Models).Select(Instance), from, -1);
        }
        foreach (DescribedModel model in node.Elements.SelectMany(element => element.Models))
        {
            state.BindingsOf(Instance(model)).SetAll(model.Bind, from, -1);
            state.SubscriptionsOf(Instance(model)).SetAll(model.Subscribe.Select(address => address.Address), from, -1);
            state.SetPublication(Instance(model), new Known<PublicationState>(
                model.Publish is { } publish ? PublicationState.Of(publish) : new PublicationState(default, null, null, null, null, null, false), from));
        }
        state.Relay = Feature(node.Features.Relay);
        state.Proxy = Feature(node.Features.Proxy);
        state.Friend = Feature(node.Features.Friend);
        state.LowPower = Feature(node.Features.LowPower);
        if (node.SecureNetworkBeacon is { } beacon)
            state.SecureNetworkBeacon = new Known<bool>(beacon, from);
        if (node.DefaultTtl is { } ttl)
            state.DefaultTtl = new Known<int>(ttl, from);
        if (node.NetworkTransmit is { } network)
            state.NetworkTransmit = new Known<DescribedTransmit?>(network, from);
        if (node.RelayRetransmit is { } relay)
            state.RelayRetransmit = new Known<DescribedTransmit?>(relay, from);
        if (node.Crpl is { } crpl)
            state.ReplayListSize = new Known<int>(crpl, from);
        if (node.HeartbeatPublication is { } heartbeat)
            state.HeartbeatPublication = new Known<DescribedAddress>(heartbeat.Destination, from);
    }

    public static void Apply(NodeState state, ConfigChange change)
    {
        KnownFrom from = change.Standing == ConfigStanding.Confirmed ? KnownFrom.Confirmed : KnownFrom.Asked;
        int message = change.Message;
        Claim yes = new(true, from, message), no = new(false, from, message);
        switch (change.Kind)
        {
            case ConfigKind.Composition:
                Compose(state, change);
                break;
            case ConfigKind.NetKeyAdded:
                state.NetKeys.Set(change.KeyIndex, yes);
                break;
            case ConfigKind.NetKeyUpdated:
                state.NetKeysUpdated.Set(change.KeyIndex, yes);
                break;
            case ConfigKind.NetKeyDeleted:
                state.NetKeys.Set(change.KeyIndex, no);
                break;
            case ConfigKind.NetKeyList:
                state.NetKeys.SetAll(change.Indexes, from, message);
                break;
            case ConfigKind.AppKeyAdded:
                state.AppKeys.Set(change.KeyIndex, yes);
                break;
            case ConfigKind.AppKeyDeleted:
                state.AppKeys.Set(change.KeyIndex, no);
                foreach (ModelInstance model in state.ConfiguredModels.ToArray())      // its bindings go with it (§4.4.1.2.10)
                    if (state.BindingsOf(model)[change.KeyIndex].Holds)
                        state.BindingsOf(model).Set(change.KeyIndex, no);
                break;
            case ConfigKind.AppKeyList when change.StatusCode is null or 0:
                foreach (int index in change.Indexes)
                    state.AppKeys.Set(index, yes);
                break;
            case ConfigKind.KeyBound:
                state.BindingsOf(change.Model!.Value).Set(change.KeyIndex, yes);
                break;
            case ConfigKind.KeyUnbound:
                state.BindingsOf(change.Model!.Value).Set(change.KeyIndex, no);
                break;
            case ConfigKind.BindingList when change.StatusCode is null or 0:
                state.BindingsOf(change.Model!.Value).SetAll(change.Indexes, from, message);
                break;
            case ConfigKind.SubscriptionAdded:
                state.SubscriptionsOf(change.Model!.Value).Set(change.Address.Address, yes);
                break;
            case ConfigKind.SubscriptionDeleted:
                state.SubscriptionsOf(change.Model!.Value).Set(change.Address.Address, no);
                break;
            case ConfigKind.SubscriptionsCleared:
                state.SubscriptionsOf(change.Model!.Value).SetAll([], from, message);
                break;
            case ConfigKind.SubscriptionOverwritten:
                state.SubscriptionsOf(change.Model!.Value).SetAll([change.Address.Address], from, message);
                break;
            case ConfigKind.SubscriptionList when change.StatusCode is null or 0:
                state.SubscriptionsOf(change.Model!.Value).SetAll(change.Addresses, from, message);
                break;
            case ConfigKind.Publication:
                state.SetPublication(change.Model!.Value, new Known<PublicationState>(change.Publication, from, message));
                break;
            case ConfigKind.KeyRefreshPhase:
                int phase = change.Request < 0 ? change.Value : change.Value == 3 ? 0 : change.Value;     // transition 2 leads to phase 2, transition 3 to phase 0 (§4.2.15)
                state.SetPhase(change.KeyIndex, new Known<int>(phase, from, message));
                break;
            case ConfigKind.NodeReset when from == KnownFrom.Confirmed:
                state.OutOfNetwork = yes;
                break;
            default:
                ApplyState(state, change, from, message);
                break;
        }
    }

    /// <summary>
    /// The node refused it, so it has not what was asked for, whatever an older description says: it would have answered success to what it has already, or, to a
    /// key, that it is stored (§4.3.5).
    /// </summary>
    public static void Refuse(NodeState state, ConfigChange change)
    {
        const byte keyIndexAlreadyStored = 0x06;
        switch (change.Kind)
        {
            case ConfigKind.AppKeyAdded when change.StatusCode != keyIndexAlreadyStored:
                Deny(state.AppKeys, change.KeyIndex, change.Message);
                break;
            case ConfigKind.KeyBound:
                Deny(state.BindingsOf(change.Model!.Value), change.KeyIndex, change.Message);
                break;
            case ConfigKind.SubscriptionAdded:
                Deny(state.SubscriptionsOf(change.Model!.Value), change.Address.Address, change.Message);
                break;
        }
    }

    private static void Deny<T>(ClaimSet<T> set, T member, int message) where T : notnull
    {
        if (set[member] is { Holds: true, From: KnownFrom.Description })
            set.Set(member, new Claim(false, KnownFrom.Confirmed, message));
    }

    /// <summary>For a time before this change: what the description says may be its result.</summary>
    public static void Doubt(NodeState state, ConfigChange change)
    {
        switch (change.Kind)
        {
            case ConfigKind.NetKeyAdded: state.NetKeys.Doubt(change.KeyIndex, holds: true); break;
            case ConfigKind.NetKeyDeleted: state.NetKeys.Doubt(change.KeyIndex, holds: false); break;
            case ConfigKind.NetKeyUpdated: state.NetKeysUpdated.Doubt(change.KeyIndex, holds: true); break;
            case ConfigKind.AppKeyAdded: state.AppKeys.Doubt(change.KeyIndex, holds: true); break;
            case ConfigKind.AppKeyDeleted: state.AppKeys.Doubt(change.KeyIndex, holds: false); break;
            case ConfigKind.KeyBound: state.BindingsOf(change.Model!.Value).Doubt(change.KeyIndex, holds: true); break;
            case ConfigKind.KeyUnbound: state.BindingsOf(change.Model!.Value).Doubt(change.KeyIndex, holds: false); break;
            case ConfigKind.SubscriptionAdded or ConfigKind.SubscriptionOverwritten: state.SubscriptionsOf(change.Model!.Value).Doubt(change.Address.Address, holds: true); break;
            case ConfigKind.SubscriptionDeleted: state.SubscriptionsOf(change.Model!.Value).Doubt(change.Address.Address, holds: false); break;
            case ConfigKind.Publication when state.PublicationOf(change.Model!.Value) is { From: KnownFrom.Description } publication
                && publication.Value?.Address.Address == change.Publication?.Address.Address:
                state.SetPublication(change.Model!.Value, default);
                break;
            case ConfigKind.Relay when state.Relay is { From: KnownFrom.Description } relay && (byte)relay.Value == change.Value: state.Relay = default; break;
            case ConfigKind.Friend when state.Friend is { From: KnownFrom.Description } friend && (byte)friend.Value == change.Value: state.Friend = default; break;
            case ConfigKind.Proxy when state.Proxy is { From: KnownFrom.Description } proxy && (byte)proxy.Value == change.Value: state.Proxy = default; break;
            case ConfigKind.DefaultTtl when state.DefaultTtl is { From: KnownFrom.Description } ttl && ttl.Value == change.Value: state.DefaultTtl = default; break;
            case ConfigKind.NetworkTransmit when state.NetworkTransmit is { From: KnownFrom.Description } transmit && transmit.Value == change.Transmit: state.NetworkTransmit = default; break;
        }
    }

    private static void ApplyState(NodeState state, ConfigChange change, KnownFrom from, int message)
    {
        switch (change.Kind)
        {
            case ConfigKind.Relay:
                state.Relay = new Known<FeatureState>((FeatureState)change.Value, from, message);
                state.RelayRetransmit = new Known<DescribedTransmit?>(change.Transmit, from, message);
                break;
            case ConfigKind.Proxy: state.Proxy = new Known<FeatureState>((FeatureState)change.Value, from, message); break;
            case ConfigKind.Friend: state.Friend = new Known<FeatureState>((FeatureState)change.Value, from, message); break;
            case ConfigKind.DefaultTtl: state.DefaultTtl = new Known<int>(change.Value, from, message); break;
            case ConfigKind.Beacon: state.SecureNetworkBeacon = new Known<bool>(change.Value == 1, from, message); break;
            case ConfigKind.NetworkTransmit: state.NetworkTransmit = new Known<DescribedTransmit?>(change.Transmit, from, message); break;
            case ConfigKind.HeartbeatPublication: state.HeartbeatPublication = new Known<DescribedAddress>(change.Address, from, message); break;
        }
    }

    private static void Compose(NodeState state, ConfigChange change)
    {
        CompositionPage0 page = change.Composition!;
        var models = new List<ModelInstance>();
        for (int element = 0; element < page.Elements.Count; element++)
        {
            var address = new MeshAddress((ushort)(state.Unicast.Value + element));
            models.AddRange(page.Elements[element].Select(model => new ModelInstance(address, model)));
        }
        state.Models.SetAll(models, KnownFrom.Confirmed, change.Message);
        state.Elements = page.Elements.Count;
        state.ReplayListSize = new Known<int>(page.Crpl, KnownFrom.Confirmed, change.Message);
        // The bits tell what the node has, not what is switched on: only "has not" settles a feature.
        if ((page.Features & 1) == 0)
            state.Relay = new Known<FeatureState>(FeatureState.NotSupported, KnownFrom.Confirmed, change.Message);
        if ((page.Features & 2) == 0)
            state.Proxy = new Known<FeatureState>(FeatureState.NotSupported, KnownFrom.Confirmed, change.Message);
        if ((page.Features & 4) == 0)
            state.Friend = new Known<FeatureState>(FeatureState.NotSupported, KnownFrom.Confirmed, change.Message);
        state.LowPower = new Known<FeatureState>((page.Features & 8) != 0 ? FeatureState.Enabled : FeatureState.NotSupported, KnownFrom.Confirmed, change.Message);
    }

    private static Known<FeatureState> Feature(FeatureState state) =>
        state == FeatureState.Unknown ? default : new Known<FeatureState>(state, KnownFrom.Description);

    private static ModelInstance Instance(DescribedModel model) => new(model.Element, ModelNumber.Of(model));
}
