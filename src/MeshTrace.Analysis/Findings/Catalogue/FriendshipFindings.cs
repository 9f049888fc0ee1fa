using MeshTrace.Analysis.Findings.Rules.Friendship;

namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Friendship, proxy, heartbeat: what stands fixed about these findings, and who judges them.</summary>
internal static class FriendshipFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("friend-lost", Severity.Fault,
            "the battery panel wakes and finds no Friend",
            "three polls or more with the same FSN and no number unheard between them, then a Friend Request (two that were heard, with numbers unheard: possible); or six polls; or two Friend Requests or more in a row, by LPNCounter, that name the same Friend as the one before (likely from three on)",
            "Look at the way between the two: distance, the Friend's receive window, and whether it scans while it has much to send.",
            "Mesh Protocol 1.1 §3.6.5.3, §3.6.6.4.2"),
        new("friend-offers-none", Severity.Warning,
            "establishing a friendship takes long",
            "three Friend Requests or more in a row by their LPNCounter, heard or not, 1.1 s to 60 s apart, and nothing between them that was heard as a poll or may be one: all sequence numbers are accounted for",
            "Switch the Friend feature on at a mains-powered node within its reach, with a queue as large as the Low Power node asks for.",
            "Mesh Protocol 1.1 §3.6.6.3.1"),
        new("friend-queue-overflow", Severity.Warning,
            "the panel's lamp state is wrong after waking",
            "more PDUs for a Low Power node between two polls that follow each other than the queue size in the Friend's offer; likely from two such times on",
            "Take a larger Friend Queue, poll more often, or subscribe the Low Power node to fewer groups.",
            "Mesh Protocol 1.1 §3.5.5, §3.6.5.4"),
        new("proxy-filter-blocks", Severity.Warning,
            "the phone does not see group messages",
            "the Filter Status tells fewer addresses than were added; or the filter does not let through a group that the phone's node listens to (likely with messages to it on the air, else possible)",
            "Add the group to the accept list of the phone's proxy filter.",
            "Mesh Protocol 1.1 §6.4, §6.6"),
        new("proxy-not-forwarding", Severity.Fault,
            "the phone reaches only the node that it is connected to",
            "five PDUs or more for other nodes were written to a proxy and none came on the air, where five or more of the proxy's own PDUs tell how well it is heard",
            "Switch the GATT Proxy state on (Config GATT Proxy Set): firmware that can do it is not enough.",
            "Mesh Protocol 1.1 §3.4.6.3"),
        new("heartbeat-silent", Severity.Warning,
            "how do I know that a node is offline?",
            "no heartbeat for three periods or more of a node that is set to send them, with less than 2 % chance that they were only missed (0.4 % where the node used so many numbers that nobody heard that they may be among them), all nodes that send some taken together, by the share heard of its PDUs and by how those heard lie among all heartbeats due (less than 5 % each, the geometric mean of both counts); possible where their number may have run out",
            "See whether the node has power and is in reach; then check count, period and TTL of its heartbeat publication.",
            "Mesh Protocol 1.1 §3.6.7, §4.2.18"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new FriendLost(),
        new FriendOffersNone(),
        new FriendQueueOverflow(),
        new ProxyFilterBlocks(),
        new ProxyNotForwarding(),
        new HeartbeatSilent(),
    ];
}
