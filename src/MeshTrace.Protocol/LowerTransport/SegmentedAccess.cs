namespace MeshTrace.Protocol.LowerTransport;

/// <summary>Segmented Access message (Mesh Protocol 1.1 §3.5.2.2).</summary>
/// <remarks>SEG(1)=1 | AKF(1) | AID(6) | SZMIC(1) | SeqZero(13) | SegO(5) | SegN(5) | Segment m.</remarks>
public readonly ref struct SegmentedAccess
{
    /// <summary>Octets of each segment but the last, which has 1 to 12.</summary>
    public const int SegmentLength = 12;

    private readonly ReadOnlySpan<byte> _pdu;

    private SegmentedAccess(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>True for an application key, false for a device key.</summary>
    public bool Akf => (_pdu[0] & 0x40) != 0;

    /// <summary>The application key identifier; 0 for a device key.</summary>
    public byte Aid => (byte)(_pdu[0] & 0x3F);

    /// <summary>True for a TransMIC of 64 bits, false for one of 32.</summary>
    public bool SzMic => SegmentHeader.TopBit(_pdu);

    /// <summary>The low 13 bits of the SEQ of SeqAuth.</summary>
    public ushort SeqZero => SegmentHeader.SeqZero(_pdu);

    /// <summary>Number of this segment.</summary>
    public byte SegO => SegmentHeader.SegO(_pdu);

    /// <summary>Number of the last segment.</summary>
    public byte SegN => SegmentHeader.SegN(_pdu);

    public ReadOnlySpan<byte> Segment => _pdu[SegmentHeader.Length..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out SegmentedAccess message, out DecodeProblem problem)
    {
        problem = SegmentHeader.Check(pdu, SegmentLength);
        message = problem.IsProblem ? default : new SegmentedAccess(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes the PDU and returns its length.</summary>
    public static int Write(Span<byte> pdu, bool akf, byte aid, bool szMic, ushort seqZero, byte segO, byte segN, ReadOnlySpan<byte> segment)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(aid, 0x3F);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(segment.Length, SegmentLength);
        return SegmentHeader.Write(pdu, (byte)((akf ? 0x40 : 0) | aid), szMic, seqZero, segO, segN, segment);
    }
}
