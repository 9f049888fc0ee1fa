using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>Cases of friendship, of joining, and of procedures over the whole network.</summary>
internal static partial class FaultCases
{
    /// <summary>The Friend is silent for this time.</summary>
    private const double SilentFromS = 50, SilentUntilS = 110;
    private const int QueueSize = 2;

    private static IEnumerable<FaultCase> Lives() =>
    [
        new("friend-lost", Needs.Friendship,
            network => [Fault("friend-lost", ("node", network.Relays[0].Name), ("fromS", SilentFromS), ("untilS", SilentUntilS))],
            network => [network.Battery!, network.Relays[0]], composed => IsLossHeard(composed) || IsTryHeard(composed),
            "two Friend Requests after the Friend was given up were heard (they name it), or a friendship's Request and Offer, three polls of it in vain and the next Request"),
        new("friend-offers-none", Needs.Friendship, _ => [Fault("friend-offers-none")], network => [network.Battery!],
            composed => Heard(composed, "Friend Request", composed.Network.Battery!, 0) >= 3, "three Friend Requests were heard"),
        new("friend-queue-overflow", Needs.Friendship, network => [Fault("friend-queue-overflow", ("node", network.Relays[0].Name), ("size", QueueSize))],
            network => [network.Battery!, network.Relays[0]], IsOverflowHeard,
            "the friendship's Request and Offer, two polls that follow each other, and between them more PDUs for the node than the queue holds were heard"),
        new("provisioning-failed", Needs.Provisioning,
            network => [Fault("provisioning-failed", ("node", network.Device!.Name), ("how", (string[])["confirmation", "timeout", "stops"] is var how ? how[network.Index % 3] : ""))],
            network => [network.Device!, network.Tablet],
            composed => composed.Bearer.TimeOf(ProvisioningPduType.Failed) is not null || composed.Bearer.IsClosed(LinkCloseReason.Fail) || composed.Bearer.IsClosed(LinkCloseReason.Timeout)
                || composed.Bearer.ChanceRestMissed < 0.001,
            "a Provisioning Failed or the Link Close was heard; or so much of what both ends had sent that the rest would have been missed with a chance of less than 0.1 %: nothing else speaks for a silent end"),
        new("provisioning-repeats", Needs.Provisioning, network => [Fault("provisioning-repeats", ("node", network.Device!.Name))],
            network => [network.Device!, network.Tablet], composed => composed.Bearer.MostSendings >= 4, "the capture holds four sendings of one segment, 0.3 s apart or more"),
        new("still-unprovisioned", Needs.Provisioning, network => [Fault("still-unprovisioned", ("node", network.Device!.Name))],
            network => [network.Device!],
            composed => JoinedAt(composed) is { } joined && composed.Truth.BeaconsOfDevices.Any(beacon => beacon > joined + 32_000_000_000),
            "the device was heard to join (its Complete, and the Link Open that tells whose link it is) or to speak as a node, and its beacon 32 s later"),
        new("iv-update-out-of-time", Needs.IvUpdate, _ => [Fault("iv-update-out-of-time", ("lastsS", 60))], null,
            composed => composed.Truth.IvUpdateFlagsHeard is var flags && flags.Contains(true) && !flags[0] && !flags[^1],
            "beacons before, during and after the update were heard"),
        new("key-refresh-stuck", Needs.KeyRefresh, network => [Fault("key-refresh-stuck", ("node", network.Lamp.Name))], network => [network.Lamp],
            composed => composed.Truth.CountOf(composed.Network.Lamp) is var (heard, sent) && heard > 0.6 * sent, "three fifths of the node's PDUs were heard"),
    ];

    /// <summary>When the device was first heard to be a node, or null.</summary>
    private static long? JoinedAt(Composition composed)
    {
        long? complete = composed.Bearer.LinkOpen ? composed.Bearer.TimeOf(ProvisioningPduType.Complete) : null;
        long spoke = composed.Truth.Floods.Where(flood => flood.IsHeard && composed.Network.Device!.Owns(flood.Src)).Select(FirstHeardNs).DefaultIfEmpty(long.MaxValue).Min();
        return complete is null && spoke == long.MaxValue ? null : Math.Min(complete ?? long.MaxValue, spoke);
    }

    /// <summary>Two requests between the loss of a Friend and the end of its silence.</summary>
    private static bool IsLossHeard(Composition composed) => composed.Truth.FriendsLost.Any(lost => composed.Truth.Floods.Count(flood => flood.What == "Friend Request"
        && flood.IsHeard && flood.FirstNs > lost && flood.FirstNs < composed.Truth.StartNs + (long)(SilentUntilS * 1e9)) >= 2);

    /// <summary>Three of the polls in vain right before a request that was heard, and the Request and Offer of that friendship: without these no poll opens.</summary>
    private static bool IsTryHeard(Composition composed)
    {
        List<TrueFlood> said = [.. composed.Truth.Floods.Where(flood => flood.Events.Count > 0 && composed.Network.Battery!.Owns(flood.Src)).OrderBy(flood => flood.Seq)];
        for (int at = 0; at < said.Count; at++)
        {
            if (said[at].What != "Friend Request" || !said[at].IsHeard || said[at].FirstNs < composed.Truth.StartNs + (long)(SilentFromS * 1e9))
                continue;
            var polls = said[Math.Max(0, at - 6)..at].Where(flood => flood.What == "Friend Poll" && flood.FirstNs >= composed.Truth.StartNs + (long)(SilentFromS * 1e9)).ToList();
            if (polls.Count(poll => poll.IsHeard) >= 3 && IsFriendshipHeard(composed, polls[0]))
                return true;
        }
        return false;
    }

    /// <summary>The last Friend Request before a poll, and an offer that came between the two, were heard.</summary>
    private static bool IsFriendshipHeard(Composition composed, TrueFlood poll) =>
        composed.Truth.Floods.LastOrDefault(flood => flood.What == "Friend Request" && flood.Events.Count > 0 && flood.FirstNs < poll.FirstNs) is { IsHeard: true } request
        && composed.Truth.Floods.Any(flood => flood.What == "Friend Offer" && flood.IsHeard && flood.FirstNs > request.FirstNs && flood.FirstNs < poll.FirstNs
            && composed.Network.Relays[0].Owns(flood.Src));

    private static bool IsOverflowHeard(Composition composed)
    {
        DrawnNode battery = composed.Network.Battery!;
        int[] groups = [0xC001, 0xC002, .. composed.Truth.Floods.Select(flood => flood.Dst).Where(dst => dst is >= 0x8000 and < 0xC000)];
        List<TrueFlood> said = [.. composed.Truth.Floods.Where(flood => flood.Events.Count > 0 && battery.Owns(flood.Src)).OrderBy(flood => flood.Seq)];
        return composed.Truth.Dropped > 0 && said.Zip(said.Skip(1)).Any(pair => pair is { First: { What: "Friend Poll", IsHeard: true }, Second: { What: "Friend Poll", IsHeard: true } }
            && pair.Second.FirstNs - pair.First.FirstNs > 1_000_000_000 && IsFriendshipHeard(composed, pair.First)
            && composed.Truth.Floods.Count(flood => flood.IsHeard && flood.Ttl >= 2 && !battery.Owns(flood.Src) && (battery.Owns(flood.Dst) || groups.Contains(flood.Dst))
                && FirstHeardNs(flood) > pair.First.FirstNs && FirstHeardNs(flood) < pair.Second.FirstNs && !flood.What.StartsWith("Friend ", StringComparison.Ordinal)) > QueueSize);
    }

    private static long FirstHeardNs(TrueFlood flood) => flood.Events.First(sent => sent.IsHeard).TimeNs;

    private static int Heard(Composition composed, string what, DrawnNode node, double fromS) => composed.Truth.Floods.Count(flood =>
        flood.What == what && flood.IsHeard && node.Owns(flood.Src) && flood.FirstNs >= composed.Truth.StartNs + (long)(fromS * 1e9));
}
