using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes.Friendship;

/// <summary>
/// A Low Power node and its Friend, from the Friend Offer on: what both know of it, and the security material that only they have (Mesh
/// Protocol 1.1 §3.9.6.3.1).
/// </summary>
internal sealed class FriendshipBond(MeshNode lpn, MeshNode friend, ushort lpnCounter, ushort friendCounter, LowPowerTerms terms)
{
    private readonly Dictionary<SubnetKeys, NetworkCredentials> _credentials = [];

    internal MeshNode Lpn { get; } = lpn;
    internal MeshNode Friend { get; } = friend;
    internal ushort LpnCounter { get; } = lpnCounter;
    internal ushort FriendCounter { get; } = friendCounter;
    internal LowPowerTerms Terms { get; } = terms;

    /// <summary>ReceiveWindow of the Offer, ms.</summary>
    internal required int ReceiveWindowMs { get; init; }
    internal required int QueueSize { get; init; }
    internal FriendshipTruth? Truth { get; set; }

    internal bool IsOf(MeshNode node) => ReferenceEquals(node, Lpn) || ReferenceEquals(node, Friend);

    internal NetworkCredentials CredentialsOf(SubnetKeys subnet)
    {
        if (!_credentials.TryGetValue(subnet, out var credentials))
        {
            credentials = NetworkCredentials.Friendship(subnet.Material.Octets, Lpn.Unicast, Friend.Unicast, LpnCounter, FriendCounter);
            _credentials.Add(subnet, credentials);
        }
        return credentials;
    }
}

/// <summary>What a Friend Request asks for (§3.6.5.3).</summary>
/// <param name="ReceiveDelayMs">10-255 ms: no answer comes earlier after a poll.</param>
/// <param name="PollTimeoutUs">Without a poll for so long the friendship is over.</param>
/// <param name="RssiFactor">0-3 for 1, 1.5, 2, 2.5.</param>
/// <param name="ReceiveWindowFactor">Likewise.</param>
/// <param name="MinQueueSizeLog">1-7: room for 2 to 128 messages.</param>
internal sealed record LowPowerTerms(int ReceiveDelayMs, long PollTimeoutUs, int RssiFactor, int ReceiveWindowFactor, int MinQueueSizeLog);
