namespace MeshTrace.Protocol.Provisioning;

/// <summary>Why a link was closed (Mesh Protocol 1.1 §5.3). Other values are reserved and stay as they are.</summary>
public enum LinkCloseReason : byte
{
    Success = 0x00,

    /// <summary>A transaction was not acknowledged in time.</summary>
    Timeout = 0x01,
    Fail = 0x02,
}

/// <summary>Link Close: either side closes the link; not acknowledged, so sent at least three times (Mesh Protocol 1.1 §5.3).</summary>
/// <remarks>BearerOpcode(6)=0x02 | GPCF(2)=0b11 | Reason(8).</remarks>
public readonly ref struct LinkClose
{
    public const int Length = 2;
    private readonly ReadOnlySpan<byte> _pdu;

    private LinkClose(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public LinkCloseReason Reason => (LinkCloseReason)_pdu[1];

    /// <summary>Every check is here; once it has returned true, no property can fail. A reserved reason closes the link like any
    /// other.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out LinkClose close, out DecodeProblem problem)
    {
        problem = GenericProvisioning.CheckBearerControl(pdu, BearerOpcode.LinkClose, Length);
        close = problem.IsProblem ? default : new LinkClose(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, LinkCloseReason reason)
    {
        destination[0] = GenericProvisioning.FirstOctet((int)BearerOpcode.LinkClose, GenericProvisioningFormat.ProvisioningBearerControl);
        destination[1] = (byte)reason;
        return Length;
    }
}
