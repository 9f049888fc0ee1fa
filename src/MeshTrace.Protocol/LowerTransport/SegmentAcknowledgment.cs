using System.Buffers.Binary;

namespace MeshTrace.Protocol.LowerTransport;

/// <summary>Segment Acknowledgment message (Mesh Protocol 1.1 §3.5.2.3.1): which segments of a transfer have arrived.</summary>
/// <remarks>SEG(1)=0 | Opcode(7)=0x00 | OBO(1) | SeqZero(13) | RFU(2) | BlockAck(32); big-endian throughout.</remarks>
public readonly ref struct SegmentAcknowledgment
{
    public const int Length = 7;

    private readonly ReadOnlySpan<byte> _pdu;

    private SegmentAcknowledgment(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>True where a Friend answers on behalf of its Low Power node.</summary>
    public bool Obo => (_pdu[1] & 0x80) != 0;

    /// <summary>The low 13 bits of the SEQ of SeqAuth of the transfer that is acknowledged.</summary>
    public ushort SeqZero => (ushort)((BinaryPrimitives.ReadUInt16BigEndian(_pdu[1..]) >> 2) & 0x1FFF);

    /// <summary>Bit n, from the least significant, stands for segment n. 0 means that the receiver cannot take the message.</summary>
    public uint BlockAck => BinaryPrimitives.ReadUInt32BigEndian(_pdu[3..]);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out SegmentAcknowledgment message, out DecodeProblem problem)
    {
        message = default;
        problem = DecodeProblem.None;
        if (pdu.Length != Length)   // the message has no optional part, so a longer PDU is as wrong as a shorter one
            problem = DecodeProblem.WrongLength(Layer.LowerTransport, Length, pdu.Length);
        else if (pdu[0] != 0x00)    // SEG and opcode; the RFU bits are ignored on receipt
            problem = DecodeProblem.WrongValue(Layer.LowerTransport, 0, "Opcode", pdu[0]);
        else
            message = new SegmentAcknowledgment(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes the PDU and returns its length.</summary>
    public static int Write(Span<byte> pdu, bool obo, ushort seqZero, uint blockAck)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(seqZero, 0x1FFF);
        pdu[0] = 0x00;
        BinaryPrimitives.WriteUInt16BigEndian(pdu[1..], (ushort)((obo ? 0x8000 : 0) | (seqZero << 2)));
        BinaryPrimitives.WriteUInt32BigEndian(pdu[3..], blockAck);
        return Length;
    }
}
