namespace MeshTrace.Protocol.LowerTransport;

/// <summary>Segmented Control message (Mesh Protocol 1.1 §3.5.2.4).</summary>
/// <remarks>SEG(1)=1 | Opcode(7) | RFU(1) | SeqZero(13) | SegO(5) | SegN(5) | Segment m.</remarks>
public readonly ref struct SegmentedControl
{
    /// <summary>Octets of each segment but the last, which has 1 to 8.</summary>
    public const int SegmentLength = 8;

    private readonly ReadOnlySpan<byte> _pdu;

    private SegmentedControl(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public byte Opcode => (byte)(_pdu[0] & 0x7F);

    /// <summary>The low 13 bits of the SEQ of SeqAuth.</summary>
    public ushort SeqZero => SegmentHeader.SeqZero(_pdu);

    /// <summary>Number of this segment.</summary>
    public byte SegO => SegmentHeader.SegO(_pdu);

    /// <summary>Number of the last segment.</summary>
    public byte SegN => SegmentHeader.SegN(_pdu);

    public ReadOnlySpan<byte> Segment => _pdu[SegmentHeader.Length..];

    /// <summary>Every check is here; once it has returned true, no property can fail. The RFU bit is ignored.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out SegmentedControl message, out DecodeProblem problem)
    {
        problem = SegmentHeader.Check(pdu, SegmentLength);
        if (!problem.IsProblem && (pdu[0] & 0x7F) == 0)   // opcode 0x00 is the acknowledgment, which is never segmented
            problem = DecodeProblem.WrongValue(Layer.LowerTransport, 0, "Opcode", 0);
        message = problem.IsProblem ? default : new SegmentedControl(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes the PDU and returns its length.</summary>
    public static int Write(Span<byte> pdu, byte opcode, ushort seqZero, byte segO, byte segN, ReadOnlySpan<byte> segment)
    {
        ArgumentOutOfRangeException.ThrowIfZero(opcode);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(opcode, 0x7F);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(segment.Length, SegmentLength);
        return SegmentHeader.Write(pdu, opcode, topBit: false, seqZero, segO, segN, segment);
    }
}
