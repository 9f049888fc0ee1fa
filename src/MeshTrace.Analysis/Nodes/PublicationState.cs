using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Nodes;

/// <summary>Where and how a model publishes (Model Publication state, Mesh Protocol 1.1 §4.2).</summary>
/// <param name="Address">Publish address; unassigned: it does not publish.</param>
/// <param name="AppKeyIndex">0-4095, or null where unknown.</param>
/// <param name="Ttl">0-127, 255 = the node's default TTL, or null where unknown.</param>
/// <param name="PeriodMs">From one periodic publication to the next, 0 = on change only; null where unknown.</param>
/// <param name="RetransmitCount">Repetitions after the first publication, 0-7, or null where unknown.</param>
/// <param name="RetransmitIntervalMs">50-1600 ms between repetitions, or null where unknown.</param>
/// <param name="FriendshipCredentials">Sent with friendship credentials.</param>
public sealed record PublicationState(DescribedAddress Address, int? AppKeyIndex, int? Ttl, int? PeriodMs, int? RetransmitCount, int? RetransmitIntervalMs, bool FriendshipCredentials)
{
    internal static PublicationState Of(DescribedPublish publish) => new(
        publish.Address, publish.AppKeyIndex, publish.Ttl, publish.PeriodMs, publish.RetransmitCount, publish.RetransmitIntervalMs, publish.FriendshipCredentials == true);
}
