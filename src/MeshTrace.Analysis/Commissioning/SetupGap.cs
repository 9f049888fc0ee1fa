using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>What is missing for a publication to have an effect.</summary>
public enum SetupGapKind : byte
{
    /// <summary>The node that publishes has not the AppKey it should publish with.</summary>
    PublisherWithoutAppKey,

    /// <summary>It has, but the key is not bound to the model that publishes (Mesh Protocol 1.1 §4.2.3).</summary>
    PublisherWithoutBinding,

    /// <summary>A client model that could send presses publishes nowhere.</summary>
    PublishesNowhere,

    /// <summary>No model of any node subscribes to the address.</summary>
    GroupWithoutSubscriber,

    /// <summary>Models subscribe to it, but none that takes messages of the one that publishes.</summary>
    SubscriberOnOtherModel,

    /// <summary>The model that subscribes is not bound to the AppKey of the publication.</summary>
    SubscriberOnOtherAppKey,

    /// <summary>The TTL of the publication is lower than the hops to a subscriber that were observed.</summary>
    TtlTooLow,
}

/// <summary>One thing that is missing.</summary>
/// <param name="Kind">What.</param>
/// <param name="Publisher">The model that publishes.</param>
/// <param name="Address">Where it publishes to; unassigned: nowhere.</param>
/// <param name="AppKeyIndex">AppKey of the publication, or null.</param>
/// <param name="Subscriber">The model at the other end, or null.</param>
/// <param name="Ttl">TTL of the publication, or null where unknown.</param>
/// <param name="TtlNeeded">TTL that the subscriber's distance needs, or null.</param>
/// <param name="From">The weakest statement that this rests on.</param>
/// <param name="Confidence">How sure it is.</param>
/// <param name="Evidence">Rows it rests on; none where it rests on the description.</param>
public sealed record SetupGap(SetupGapKind Kind, ModelInstance Publisher, MeshAddress Address, int? AppKeyIndex, ModelInstance? Subscriber, int? Ttl, int? TtlNeeded,
    KnownFrom From, Confidence Confidence, IReadOnlyList<Evidence> Evidence);
