namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Failed: the device gives up (Mesh Protocol 1.1 §5.4.1.10).</summary>
/// <remarks>Type(8)=0x09 | ErrorCode(8).</remarks>
public readonly ref struct ProvisioningFailed
{
    public const int Length = 2;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningFailed(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public ProvisioningError ErrorCode => (ProvisioningError)_pdu[1];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningFailed pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.Failed, out problem);
        pdu = good ? new ProvisioningFailed(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ProvisioningError errorCode)
    {
        destination[0] = (byte)ProvisioningPduType.Failed;
        destination[1] = (byte)errorCode;
        return Length;
    }
}
