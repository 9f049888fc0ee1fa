using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>
/// The timers of segmentation and reassembly, in ms. Edition 1.0: Mesh Profile 1.0 §3.5.3.3, §3.5.3.4 (from memory). Edition 1.1: the
/// default SAR Transmitter and Receiver states of Mesh Protocol 1.1 §4.2.48, §4.2.49, used by §3.5.3.3, §3.5.3.4.
/// </summary>
internal static class SarTimers
{
    /// <summary>Silence after which an unfinished message is dropped: incomplete timer (1.0), SAR Discard Timeout (1.1).</summary>
    internal const int DiscardMs = 10_000;

    /// <summary>Between two segments of a pass. 1.1: SAR Segment Interval Step 5 = 60 ms. 1.0 tells none: common practice, no
    /// source.</summary>
    internal static int SegmentIntervalMs(SarEdition edition) => edition == SarEdition.V11 ? 60 : 30;

    /// <summary>Wait for an acknowledgment before unacknowledged segments are sent again.</summary>
    internal static int RetransmissionMs(SarEdition edition, int ttl) => edition == SarEdition.V11
        ? 200 + (50 * Math.Max(ttl - 1, 0))
        : 200 + (50 * ttl);

    /// <summary>Between two passes to a group or virtual address. 1.1: SAR Multicast Retransmissions Interval Step 9 = 250 ms.</summary>
    internal static int MulticastMs(SarEdition edition, int ttl) => edition == SarEdition.V11 ? 250 : RetransmissionMs(edition, ttl);

    /// <summary>Transmissions of each segment. 1.1: 3 for the default counts; 1.0: at least 2, told by the node.</summary>
    internal static int Transmissions(SarEdition edition, int tries) => edition == SarEdition.V11 ? 3 : tries;

    /// <summary>From a segment to the acknowledgment. 1.1: the smaller of SegN + 0.5 and 2.5, times 60 ms.</summary>
    internal static int AcknowledgmentMs(SarEdition edition, int ttl, int segN) => edition == SarEdition.V11
        ? (int)(Math.Min(segN + 0.5, 2.5) * 60)
        : 150 + (50 * ttl);
}
