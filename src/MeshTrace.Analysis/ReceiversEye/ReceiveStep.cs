namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>Steps of the receive procedure that a message passes at a node, in their order (Mesh Protocol 1.1 §3.4.6, §3.5.3, §3.6.4, §3.7.3, §3.8.8).</summary>
public enum ReceiveStep : byte
{
    None,

    /// <summary>The node is in the network and has the NetKey (§3.4.6.3).</summary>
    NetworkKey,

    /// <summary>The IV index is the node's or one below (§3.11.5).</summary>
    IvIndex,

    /// <summary>Some copy could come to it: its TTL against the hops between (§3.4.6.3).</summary>
    Reach,

    /// <summary>The network message cache has not seen its (IV index, SRC, SEQ) yet (§3.4.6.5).</summary>
    MessageCache,

    /// <summary>All segments came together (§3.5.3.4).</summary>
    Segments,

    /// <summary>(IV index, SEQ) is above the last one received from SRC (§3.8.8).</summary>
    ReplayProtection,

    /// <summary>The replay protection list has room for SRC (§3.8.8).</summary>
    ReplayListSpace,

    /// <summary>The node has the AppKey, bound to the NetKey of the message (§3.6.4.2, §4.3.2.37).</summary>
    AppKey,

    /// <summary>The element has a server model for the message (§3.7.4).</summary>
    Model,

    /// <summary>DST is the element's address, or the model subscribes to it (§3.7.4).</summary>
    Address,

    /// <summary>The AppKey is bound to the model (§3.7.4).</summary>
    Binding,

    /// <summary>The transaction is not one that was carried out within the last 6 s (Mesh Model 1.1 §3.3).</summary>
    Transaction,
}

/// <summary>What is known of one step.</summary>
public enum StepOutcome : byte
{
    Unknown,
    Passes,
    Rejects,
}

/// <summary>Why nothing can be told.</summary>
public enum EyeDoubt : byte
{
    None,

    /// <summary>Keys, models, subscriptions or bindings of the node are not known.</summary>
    ConfigurationUnknown,

    /// <summary>Nobody knows whether a copy came to the node: its TTL ran out somewhere.</summary>
    ReachUnknown,

    /// <summary>The element would not have told: an unacknowledged request, and it publishes nothing new.</summary>
    NoAnswerExpected,

    /// <summary>The receivers would easily have missed the answer, or never heard the node at all.</summary>
    HeardTooLittle,
}

/// <summary>What the receiver's eye says of one element and one press.</summary>
public enum EyeVerdict : byte
{
    CannotTell,

    /// <summary>Its answer was heard.</summary>
    Acted,

    /// <summary>Nothing known rejects the message, and an answer would have been heard: none was.</summary>
    ShouldHaveActed,

    /// <summary>A step rejects it.</summary>
    Rejected,
}
