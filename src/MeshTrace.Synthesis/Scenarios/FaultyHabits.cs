using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>A part of the time in which something is lost, and how often.</summary>
/// <param name="FromUs">From here on.</param>
/// <param name="UntilUs">Until before this.</param>
/// <param name="Share">Share of the messages that is lost.</param>
internal sealed record LossHabit(long FromUs, long UntilUs, double Share);

/// <summary>Segments that a node never sees.</summary>
/// <param name="FromUs">From here on.</param>
/// <param name="UntilUs">Until before this.</param>
/// <param name="Segment">SegO of the one that is lost, or null for all.</param>
internal sealed record SegmentLossHabit(long FromUs, long UntilUs, int? Segment);

/// <summary>A relay that sends what it relays one PDU after the other, out of a queue with little room.</summary>
/// <param name="Room">PDUs that wait at most; further ones are not relayed.</param>
/// <param name="PaceUs">Time that each takes.</param>
internal sealed record RelayQueueHabit(int Room, long PaceUs);

/// <summary>Presses sent again as if each were a new one.</summary>
/// <param name="Times">Messages in all, each with the next TID.</param>
/// <param name="IntervalUs">Even distance between them.</param>
internal sealed record RenumberingHabit(int Times, long IntervalUs);

/// <summary>What a node does wrong; nothing, unless a fault says so.</summary>
internal sealed class FaultyHabits
{
    /// <summary>Requests that come to the node and that its models never see.</summary>
    internal List<LossHabit> RequestsLost { get; } = [];
    internal List<SegmentLossHabit> SegmentsLost { get; } = [];
    internal List<(long FromUs, long UntilUs)> HeartbeatCuts { get; } = [];
    internal RelayQueueHabit? RelayQueue { get; set; }
    internal RenumberingHabit? Renumbering { get; set; }

    /// <summary>NetKey index under which it sends with an AppKey, instead of the one that the AppKey is bound to.</summary>
    internal Dictionary<int, int> SubnetOfAppKey { get; } = [];

    /// <summary>Status code by the configuration step that the node refuses.</summary>
    internal Dictionary<string, byte> Refuses { get; } = [];

    /// <summary>Between two segments of a pass; null: the SAR edition's.</summary>
    internal int? SegmentIntervalMs { get; set; }

    /// <summary>A pause before the last segment of the first pass.</summary>
    internal long SegmentPauseUs { get; set; }

    /// <summary>The setup program left the node before it was done.</summary>
    internal bool SetupCutOff { get; set; }

    /// <summary>A Friend that offers nothing, and times in which it answers no poll.</summary>
    internal bool OffersNothing { get; set; }
    internal List<(long FromUs, long UntilUs)> PollsUnanswered { get; } = [];

    /// <summary>As a device that joins: how much too late it acknowledges transactions.</summary>
    internal long ProvisioningAckDelayUs { get; set; }

    /// <summary>As a proxy: what a phone writes for other nodes does not come on the air.</summary>
    internal bool KeepsFromAir { get; set; }

    /// <summary>As a proxy: addresses that its filter has room for; null: as many as a phone asks for.</summary>
    internal int? ProxyFilterRoom { get; set; }

    /// <summary>Goes on with unprovisioned device beacons once it has joined.</summary>
    internal bool KeepsBeaconing { get; set; }

    /// <summary>Beacons do not change its IV index.</summary>
    internal bool KeepsIvIndex { get; set; }

    /// <summary>Sends with the new IV index while the update is still in progress.</summary>
    internal bool SendsWithNewIvIndex { get; set; }

    /// <summary>The key refresh phase that it does not leave.</summary>
    internal int? KeyRefreshStuckIn { get; set; }
}

/// <summary>An address that a removed device had (Mesh Configuration Database Profile, networkExclusions).</summary>
/// <param name="Address">Its unicast address.</param>
/// <param name="LastSequence">The last SEQ that the other nodes accepted from it.</param>
internal sealed record ExclusionPlan(MeshAddress Address, uint LastSequence);
