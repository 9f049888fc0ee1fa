using MeshTrace.Analysis.Findings.Rules.Transfer;

namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Transfers: what stands fixed about these findings, and who judges them.</summary>
internal static class TransferFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("transfer-given-up", Severity.Fault,
            "it ran out of retransmission attempts",
            "two rounds or more of the same segments after the last progress, no full acknowledgment and no further segment; likely and possible by the chance that the last acknowledgment was missed (after two rounds only, it has to be under 5 %)",
            "Look at the way to the receiver (range, relays) and at its room for segmented messages; then at the retransmission timer for this TTL.",
            "Mesh Protocol 1.1 §3.5.3.3"),
        new("acknowledgment-not-arriving", Severity.Fault,
            "it repeats although everything was received",
            "two rounds or more that repeat acknowledged segments, each more than a retransmission timer after the acknowledgment",
            "See that acknowledgments get back: raise the receiver's Default TTL, or put a relay in that direction.",
            "Mesh Protocol 1.1 §3.5.3.3, §3.5.3.4"),
        new("transfer-refused", Severity.Fault,
            "no free slots for segmented messages",
            "the receiver or its Friend acknowledges with block 0, and never in full after it",
            "Send it fewer segmented messages at a time, or give it firmware with more room to receive them.",
            "Mesh Protocol 1.1 §3.5.2.3.1"),
        new("reassembly-timed-out", Severity.Fault,
            "the incomplete timer has expired",
            "a silence within one message that is longer than the receiver's discard timeout, and no acknowledgment after it",
            "Send the segments faster: look at the sender's queue, and at its SAR Segment Interval against the receiver's SAR Discard Timeout.",
            "Mesh Protocol 1.1 §3.5.3.4"),
        new("transfer-slow", Severity.Warning,
            "three segments take ten seconds",
            "an acknowledged transfer takes more than 3 times its segments' interval and one round trip, by its interval or its waits, or more than 8 s",
            "Shorten the segment interval, the retransmission interval or the receiver's acknowledgment delay (SAR Transmitter, SAR Receiver).",
            "Mesh Protocol 1.1 §4.2.48, §4.2.49"),
        new("transfer-to-group", Severity.Warning,
            "twenty modules, and some get it late or never",
            "a message of two segments or more goes to a group or virtual address",
            "Keep messages to groups to 11 octets with the opcode, or send them to each node.",
            "Mesh Protocol 1.1 §3.5.3.3"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new TransferGivenUp(),
        new AcknowledgmentNotArriving(),
        new TransferRefused(),
        new ReassemblyTimedOut(),
        new TransferSlow(),
        new TransferToGroup(),
    ];
}
