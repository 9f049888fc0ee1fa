using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>What happened to the network or a node of it.</summary>
public enum LifecycleKind : byte
{
    /// <summary>An authenticated beacon announces an IV update, or ends it (Mesh Protocol 1.1 §3.11.5).</summary>
    IvUpdateInProgress,
    IvUpdateFinished,

    /// <summary>The IV index stepped on with no beacon flag seen between.</summary>
    IvIndexChanged,

    /// <summary>A new NetKey or AppKey was handed out: phase 1 of a key refresh (§3.11.4).</summary>
    KeyHandedOut,

    /// <summary>Phase 2: the beacon's key refresh flag, or a Config Key Refresh Phase message.</summary>
    KeyRefreshPhase,

    /// <summary>Config Node Reset, and the node's answer to it.</summary>
    NodeReset,

    /// <summary>A key was taken from a node.</summary>
    KeyDeleted,

    /// <summary>First private beacon of a subnet: its nodes hide their network ID (§3.10.4).</summary>
    PrivateBeacons,

    /// <summary>First Network PDU under the directed security credentials of a subnet: directed forwarding is enabled in it (§3.6.8).</summary>
    DirectedForwarding,

    /// <summary>A friendship began or was cleared (§3.6.6).</summary>
    FriendshipBegun,
    FriendshipCleared,

    /// <summary>First beacon of a device that is in no network (§3.10.2).</summary>
    UnprovisionedBeacon,

    /// <summary>A provisioning link was opened, led to its end, or failed (§5.4).</summary>
    ProvisioningBegun,
    Provisioned,
    ProvisioningFailed,

    /// <summary>Config messages (§4.3.2): the node told its elements and models; got a key; a key was bound to a model or unbound.</summary>
    CompositionTold,
    KeyAdded,
    KeyBound,
    KeyUnbound,

    /// <summary>A subscription list or a publication was changed.</summary>
    SubscriptionChanged,
    PublicationSet,

    /// <summary>Relay, proxy, friend or beacon was set.</summary>
    FeatureSet,

    /// <summary>Default TTL, network transmit or heartbeats were set.</summary>
    SettingChanged,

    /// <summary>The node's Status refused a change.</summary>
    ConfigurationRefused,
}

/// <summary>An event in the life of the network, as heard.</summary>
/// <param name="TimeNs">When it was heard first.</param>
/// <param name="Kind">What happened.</param>
/// <param name="Subnet">Row in <see cref="Keys.KeyRing.Subnets"/>, or -1.</param>
/// <param name="Node">The node it happened to, or null for the whole subnet.</param>
/// <param name="Says">One plain sentence without final stop.</param>
/// <param name="Record">Record kind of its evidence: "message", "beacon", "flood" or "provisioning".</param>
/// <param name="Row">Row of its evidence.</param>
public sealed record LifecycleEvent(long TimeNs, LifecycleKind Kind, int Subnet, MeshAddress? Node, string Says, string Record, int Row);
