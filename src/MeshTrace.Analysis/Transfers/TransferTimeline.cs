namespace MeshTrace.Analysis.Transfers;

/// <summary>Why the sender began a round of segments, as far as heard.</summary>
public enum RoundCause : byte
{
    First,

    /// <summary>An acknowledgment that named missing segments was heard just before.</summary>
    Acknowledgment,

    /// <summary>The retransmission timer ran out: no acknowledgment was heard, and the wait is long enough.</summary>
    Timer,

    /// <summary>Sooner than the timer allows, and no acknowledgment was heard: it was missed by us, or the sender does not keep the timer.</summary>
    Early,
}

/// <summary>Where a transfer stood still.</summary>
public enum TransferStall : byte
{
    /// <summary>It did not: it was acknowledged as a whole, or went to a group, which is not acknowledged.</summary>
    None,

    /// <summary>An acknowledgment with block 0: the receiver refused it, or its sender was told to stop.</summary>
    Cancelled,

    /// <summary>An acknowledgment asked for segments, and the sender sent them no more.</summary>
    SenderStopped,

    /// <summary>The sender repeated segments, and no acknowledgment was heard any more.</summary>
    ReceiverSilent,

    /// <summary>The sender repeated segments well after acknowledgments of them were heard: they do not come back to it.</summary>
    AcknowledgmentNotArriving,

    /// <summary>The capture ends while it goes on.</summary>
    CutOff,

    /// <summary>Segments or acknowledgments may just not have been heard.</summary>
    CannotTell,
}

/// <summary>One pass of the sender over the segments that it took for missing.</summary>
/// <param name="FirstNs">First hearing of its first segment heard.</param>
/// <param name="LastNs">First hearing of its last segment heard.</param>
/// <param name="Segments">Bit n = segment n was heard in this round.</param>
/// <param name="Count">Segments heard.</param>
/// <param name="Cause">What began it.</param>
/// <param name="WaitMs">From the last segment of the round before; null for the first.</param>
/// <param name="TimerMs">The retransmission timer that holds for the sender.</param>
public readonly record struct TransferRound(long FirstNs, long LastNs, uint Segments, int Count, RoundCause Cause, double? WaitMs, double TimerMs);

/// <summary>An acknowledgment in the course of a transfer.</summary>
/// <param name="Ack">Index in <see cref="Transfer.Acks"/>.</param>
/// <param name="AfterRound">Index of the last round that began before it, or -1.</param>
/// <param name="AfterSegmentMs">From the last segment heard before it; null where none was.</param>
/// <param name="TimerMs">The acknowledgment timer that holds for the receiver; a full block may come sooner.</param>
/// <param name="Progress">Bits that no acknowledgment before had.</param>
public readonly record struct TimedAcknowledgment(int Ack, int AfterRound, double? AfterSegmentMs, double TimerMs, uint Progress);

/// <summary>How a segmented transfer went: rounds of segments, the acknowledgments between, and where it stood still.</summary>
public sealed class TransferTimeline
{
    /// <summary>Row of the transfer.</summary>
    public required int Transfer { get; init; }

    /// <summary>TTL with which its segments were sent, as far as known: the highest heard.</summary>
    public required int Ttl { get; init; }

    /// <summary>True if the timers are those of a SAR Transmitter state heard; else the fixed rules of edition 1.0.</summary>
    public required bool SarHeard { get; init; }
    public required IReadOnlyList<TransferRound> Rounds { get; init; }
    public required IReadOnlyList<TimedAcknowledgment> Acks { get; init; }
    public TransferStall Stall { get; internal set; }

    /// <summary>When it last went on: last new bit acknowledged, or first hearing of the last new segment; null where it did not stand still.</summary>
    public long? StalledSinceNs { get; internal set; }

    /// <summary>Segments that no acknowledgment heard confirms.</summary>
    public uint Unconfirmed { get; internal set; }

    /// <summary>Segments that were sent again well after an acknowledgment of them was heard.</summary>
    public uint ResentAfterAcknowledgment { get; internal set; }

    /// <summary>Rounds that began after the last acknowledgment with progress.</summary>
    public int RoundsWithoutProgress { get; internal set; }

    /// <summary>Median distance of neighbouring segments within a round, or null.</summary>
    public double? SegmentIntervalMs { get; internal set; }

    /// <summary>Longest silence between two segments, in ms; the receiver drops an unfinished message after <see cref="DiscardMs"/>.</summary>
    public double LongestSilenceMs { get; internal set; }
    public required double DiscardMs { get; init; }
}
