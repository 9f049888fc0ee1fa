namespace MeshTrace.Protocol.LowerTransport;

/// <summary>The formats of a Lower Transport PDU (Mesh Protocol 1.1 §3.5.2).</summary>
public enum LowerTransportKind : byte
{
    /// <summary>No octet at all.</summary>
    None,
    UnsegmentedAccess,
    SegmentedAccess,
    UnsegmentedControl,
    SegmentedControl,

    /// <summary>The unsegmented control message with opcode 0x00.</summary>
    SegmentAcknowledgment,
}

/// <summary>What is common to the Lower Transport PDUs (Mesh Protocol 1.1 §3.5).</summary>
public static class LowerTransport
{
    /// <summary>Segments of one message: SegN has five bits.</summary>
    public const int MostSegments = 32;

    /// <summary>Which format a PDU has, by CTL of the Network PDU and by SEG and Opcode of its first octet.</summary>
    public static LowerTransportKind KindOf(bool ctl, ReadOnlySpan<byte> pdu) => pdu.IsEmpty
        ? LowerTransportKind.None
        : (ctl, (pdu[0] & 0x80) != 0) switch
        {
            (false, false) => LowerTransportKind.UnsegmentedAccess,
            (false, true) => LowerTransportKind.SegmentedAccess,
            (true, true) => LowerTransportKind.SegmentedControl,
            (true, false) => (pdu[0] & 0x7F) == 0 ? LowerTransportKind.SegmentAcknowledgment : LowerTransportKind.UnsegmentedControl,
        };

    /// <summary>
    /// The SEQ of SeqAuth (§3.5.3.1): that of the message's first segment, from the SEQ of any of its segments and
    /// SeqZero: the largest number not above <paramref name="seq"/> whose low 13 bits are SeqZero.
    /// </summary>
    /// <remarks>With SEQ below SeqZero and below 8192 there is no such number; the result then is above SEQ.</remarks>
    public static uint SeqAuth(uint seq, ushort seqZero) => unchecked(seq - ((seq - seqZero) & 0x1FFF)) & 0xFFFFFF;
}
