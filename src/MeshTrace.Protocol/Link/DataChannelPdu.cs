namespace MeshTrace.Protocol.Link;

/// <summary>LLID of a data channel PDU (Bluetooth Core Specification, volume 6 part B §2.4).</summary>
public enum LogicalLinkId : byte
{
    Reserved = 0,

    /// <summary>Continuation of an L2CAP frame, or an empty PDU.</summary>
    Continuation = 1,

    /// <summary>Start of an L2CAP frame, or a whole one.</summary>
    Start = 2,

    /// <summary>A control PDU of the link layer.</summary>
    Control = 3,
}

/// <summary>Data physical channel PDU of a connection (Bluetooth Core Specification, volume 6 part B §2.4), dewhitened, without the CRC.</summary>
/// <remarks>LLID(2) | NESN(1) | SN(1) | MD(1) | CP(1) | RFU(2) | Length(8) | CTEInfo(8) if CP | payload; the first field takes the low bits.</remarks>
public readonly ref struct DataChannelPdu
{
    public const int HeaderLength = 2;
    private const int CteInfoPresent = 0x20;

    private readonly ReadOnlySpan<byte> _pdu;

    private DataChannelPdu(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public LogicalLinkId Llid => (LogicalLinkId)(_pdu[0] & 3);

    /// <summary>Next expected sequence number: acknowledges the last PDU of the other side if it differs from its SN.</summary>
    public bool Nesn => (_pdu[0] & 0x04) != 0;

    /// <summary>Sequence number: stays the same when a PDU is sent again.</summary>
    public bool Sn => (_pdu[0] & 0x08) != 0;

    /// <summary>More data follow in this connection event.</summary>
    public bool MoreData => (_pdu[0] & 0x10) != 0;

    public ReadOnlySpan<byte> Payload => _pdu[HeaderOf(_pdu)..];

    /// <summary>Octets of the whole PDU by its header, CRC not counted.</summary>
    public static int LengthOf(ReadOnlySpan<byte> start) => HeaderOf(start) + start[1];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    /// <param name="octets">Exactly the PDU.</param>
    public static bool TryRead(ReadOnlySpan<byte> octets, out DataChannelPdu pdu, out DecodeProblem problem)
    {
        pdu = default;
        problem = octets.Length < HeaderLength ? DecodeProblem.TooShort(Layer.Link, HeaderLength, octets.Length)
            : octets.Length != LengthOf(octets) ? DecodeProblem.WrongLength(Layer.Link, LengthOf(octets), octets.Length)
            : (octets[0] & 3) == 0 ? DecodeProblem.WrongValue(Layer.Link, 0, "LLID", 0)
            : DecodeProblem.None;
        if (!problem.IsProblem)
            pdu = new DataChannelPdu(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU without CTEInfo and returns its length.</summary>
    public static int Write(Span<byte> pdu, LogicalLinkId llid, bool nesn, bool sn, bool moreData, ReadOnlySpan<byte> payload)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(payload.Length, 255, nameof(payload));
        pdu[0] = (byte)((int)llid | (nesn ? 0x04 : 0) | (sn ? 0x08 : 0) | (moreData ? 0x10 : 0));
        pdu[1] = (byte)payload.Length;
        payload.CopyTo(pdu[HeaderLength..]);
        return HeaderLength + payload.Length;
    }

    private static int HeaderOf(ReadOnlySpan<byte> pdu) => (pdu[0] & CteInfoPresent) != 0 ? HeaderLength + 1 : HeaderLength;
}
