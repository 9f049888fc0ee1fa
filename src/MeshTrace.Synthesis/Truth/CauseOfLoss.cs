using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Truth;

/// <summary>Why an element that was meant by a press did not act: the first step of the receive procedure that stopped the
/// requests.</summary>
internal static class CauseOfLoss
{
    internal static string Of(PressTruth press, MeshAddress element, IReadOnlyList<MeshNode> nodes, Medium medium)
    {
        if (press.NotSent is not null)
            return $"not-sent ({press.NotSent})";
        MeshNode? node = nodes.FirstOrDefault(candidate => candidate.Owns(element));
        if (node is null)
            return "no-such-node";
        if (node.Plan.PowerCuts.Exists(cut => press.TimeUs >= cut.FromUs && press.TimeUs < cut.UntilUs))
            return "powered-off";
        return press.ReachOf(element, node.Unicast) switch
        {
            Reach.Collided => "collision",
            Reach.LostAtNode => "ignored",
            Reach.FriendQueueFull => "friend-queue-overflow",
            Reach.ProxyFilter => "proxy-filter",
            Reach.NetKeyUnknown => "netkey-unknown",
            Reach.IvIndexApart => "iv-index-apart",
            Reach.Replay => "replay",
            Reach.ReplayListFull => "replay-list-full",
            Reach.SegmentsMissing => "segments-missing",
            Reach.AppKeyUnknown => "appkey-unknown",
            Reach.NoModel => "no-model",
            Reach.NotSubscribed => "not-subscribed",
            Reach.NotBound => "appkey-not-bound",
            Reach.SameTransaction => "same-transaction",
            var radio => OnTheWay(press, node, radio, medium),
        };
    }

    /// <summary>The requests never arrived: did a relay that reaches the node stop them?</summary>
    private static string OnTheWay(PressTruth press, MeshNode node, Reach radio, Medium medium)
    {
        if (press.Requests.Exists(flood => flood.HeldByProxy))
            return "proxy-not-forwarding";
        if (node.Plan.Phone is not null)
            return "no-proxy";
        bool Reaches(MeshNode relay) => medium.Reaches(relay.Station, node.Station);
        if (press.Requests.Exists(flood => flood.StoppedByTtl.Exists(Reaches)))
            return "ttl-too-low";
        if (press.Requests.Exists(flood => flood.RelayWasOff.Exists(Reaches)))
            return "relay-off";
        return radio switch
        {
            Reach.Transmitting => "was-transmitting",
            Reach.Weak => "too-weak",
            Reach.NotListening => "not-listening",
            _ => press.Requests.Exists(flood => flood.StoppedByTtl.Count > 0) ? "ttl-too-low" : "out-of-range",
        };
    }
}
