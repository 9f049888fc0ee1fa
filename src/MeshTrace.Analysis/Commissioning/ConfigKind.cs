namespace MeshTrace.Analysis.Commissioning;

/// <summary>What a Config message sets or tells of a node (Mesh Protocol 1.1 §4.3.2).</summary>
public enum ConfigKind : byte
{
    /// <summary>The node told its elements and models.</summary>
    Composition,
    NetKeyAdded,
    NetKeyUpdated,
    NetKeyDeleted,

    /// <summary>The node told all NetKey indexes it has.</summary>
    NetKeyList,
    AppKeyAdded,
    AppKeyUpdated,
    AppKeyDeleted,

    /// <summary>The node told all AppKey indexes it has under one NetKey.</summary>
    AppKeyList,
    KeyBound,
    KeyUnbound,

    /// <summary>The node told all AppKeys bound to a model.</summary>
    BindingList,
    SubscriptionAdded,
    SubscriptionDeleted,
    SubscriptionsCleared,
    SubscriptionOverwritten,

    /// <summary>The node told a model's whole subscription list.</summary>
    SubscriptionList,
    Publication,
    DefaultTtl,
    Beacon,
    Relay,
    Proxy,
    Friend,
    NetworkTransmit,
    HeartbeatPublication,
    HeartbeatSubscription,
    KeyRefreshPhase,
    NodeReset,
}

/// <summary>Whether a change was heard to be carried out.</summary>
public enum ConfigStanding : byte
{
    /// <summary>Asked for; no Status heard, which is not the same as none sent.</summary>
    Asked,

    /// <summary>The node's Status says so.</summary>
    Confirmed,

    /// <summary>The node's Status refuses it.</summary>
    Refused,
}
