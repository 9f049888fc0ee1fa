namespace MeshTrace.Protocol.LowerTransport;

/// <summary>Unsegmented Access message (Mesh Protocol 1.1 §3.5.2.1).</summary>
/// <remarks>SEG(1)=0 | AKF(1) | AID(6) | UpperTransportAccessPDU, whose TransMIC has 32 bits.</remarks>
public readonly ref struct UnsegmentedAccess
{
    /// <summary>One octet of header and the 5 to 15 of an Upper Transport Access PDU with one octet of payload or more.</summary>
    public const int ShortestLength = 6, LongestLength = 16;

    private readonly ReadOnlySpan<byte> _pdu;

    private UnsegmentedAccess(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>True for an application key, false for a device key.</summary>
    public bool Akf => (_pdu[0] & 0x40) != 0;

    /// <summary>The application key identifier; 0 for a device key.</summary>
    public byte Aid => (byte)(_pdu[0] & 0x3F);

    /// <summary>Encrypted access payload and 32-bit TransMIC.</summary>
    public ReadOnlySpan<byte> UpperTransportPdu => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out UnsegmentedAccess message, out DecodeProblem problem)
    {
        message = default;
        problem = DecodeProblem.None;
        if (pdu.Length < ShortestLength)
            problem = DecodeProblem.TooShort(Layer.LowerTransport, ShortestLength, pdu.Length);
        else if (pdu.Length > LongestLength)
            problem = DecodeProblem.TooLong(Layer.LowerTransport, LongestLength, pdu.Length);
        else if ((pdu[0] & 0x80) != 0)
            problem = DecodeProblem.WrongValue(Layer.LowerTransport, 0, "SEG", 1);
        else
            message = new UnsegmentedAccess(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes the PDU and returns its length.</summary>
    public static int Write(Span<byte> pdu, bool akf, byte aid, ReadOnlySpan<byte> upperTransportPdu)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(aid, 0x3F);
        pdu[0] = (byte)((akf ? 0x40 : 0) | aid);
        upperTransportPdu.CopyTo(pdu[1..]);
        return 1 + upperTransportPdu.Length;
    }
}
