namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>Cases of friendship, of joining, and of procedures over the whole network.</summary>
internal static partial class FaultCases
{
    /// <summary>The truth does not tell which PDUs of the provisioning bearer were heard: the share that the receiver gives stands for it.</summary>
    private const double EnoughPackets = 0.4;

    private static IEnumerable<FaultCase> Lives() =>
    [
        new("friend-lost", Needs.Friendship, network => [Fault("friend-lost", ("node", network.Relays[0].Name), ("fromS", 50), ("untilS", 110))],
            network => [network.Battery!, network.Relays[0]],
            composed => Heard(composed, "Friend Poll", composed.Network.Battery!, 50) >= 3 && Heard(composed, "Friend Request", composed.Network.Battery!, 50) >= 1
                && Heard(composed, "Friend Offer", composed.Network.Relays[0], 0) >= 1 && Heard(composed, "Friend Request", composed.Network.Battery!, 0) >= 2,
            "the friendship's Request and Offer, three Friend Polls while the Friend was silent, and the next Friend Request were heard"),
        new("friend-offers-none", Needs.Friendship, _ => [Fault("friend-offers-none")], network => [network.Battery!],
            composed => Heard(composed, "Friend Request", composed.Network.Battery!, 0) >= 3, "three Friend Requests were heard"),
        new("friend-queue-overflow", Needs.Friendship, network => [Fault("friend-queue-overflow", ("node", network.Relays[0].Name), ("size", 2))],
            network => [network.Battery!, network.Relays[0]],
            composed => Heard(composed, "Friend Offer", composed.Network.Relays[0], 0) >= 1 && Heard(composed, "Friend Poll", composed.Network.Battery!, 0) >= 4
                && composed.Truth.HeardShare > 0.8,
            "the Friend Offer, four Friend Polls and four fifths of all PDUs were heard"),
        new("provisioning-failed", Needs.Provisioning,
            network => [Fault("provisioning-failed", ("node", network.Device!.Name), ("how", (string[])["confirmation", "timeout", "stops"] is var how ? how[network.Index % 3] : ""))],
            network => [network.Device!, network.Tablet], composed => composed.Network.HeardShare >= EnoughPackets, "the receiver gives 40 % of the packets or more"),
        new("provisioning-repeats", Needs.Provisioning, network => [Fault("provisioning-repeats", ("node", network.Device!.Name))],
            network => [network.Device!, network.Tablet], composed => composed.Network.HeardShare >= EnoughPackets, "the receiver gives 40 % of the packets or more"),
        new("still-unprovisioned", Needs.Provisioning, network => [Fault("still-unprovisioned", ("node", network.Device!.Name))],
            network => [network.Device!], composed => composed.Network.HeardShare >= EnoughPackets, "the receiver gives 40 % of the packets or more"),
        new("iv-update-out-of-time", Needs.IvUpdate, _ => [Fault("iv-update-out-of-time", ("lastsS", 60))], null,
            composed => composed.Truth.IvUpdateFlagsHeard is var flags && flags.Contains(true) && !flags[0] && !flags[^1],
            "beacons before, during and after the update were heard"),
        new("key-refresh-stuck", Needs.KeyRefresh, network => [Fault("key-refresh-stuck", ("node", network.Lamp.Name))], network => [network.Lamp],
            composed => composed.Truth.CountOf(composed.Network.Lamp) is var (heard, sent) && heard > 0.6 * sent, "three fifths of the node's PDUs were heard"),
    ];

    private static int Heard(Composition composed, string what, DrawnNode node, double fromS) => composed.Truth.Floods.Count(flood =>
        flood.What == what && flood.IsHeard && node.Owns(flood.Src) && flood.FirstNs >= composed.Truth.StartNs + (long)(fromS * 1e9));
}
