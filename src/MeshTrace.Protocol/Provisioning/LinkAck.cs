namespace MeshTrace.Protocol.Provisioning;

/// <summary>Link ACK: the device accepts the link (Mesh Protocol 1.1 §5.3).</summary>
/// <remarks>BearerOpcode(6)=0x01 | GPCF(2)=0b11.</remarks>
public readonly ref struct LinkAck
{
    public const int Length = 1;

    public static bool TryRead(ReadOnlySpan<byte> pdu, out LinkAck ack, out DecodeProblem problem)
    {
        ack = default;
        problem = GenericProvisioning.CheckBearerControl(pdu, BearerOpcode.LinkAck, Length);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination)
    {
        destination[0] = GenericProvisioning.FirstOctet((int)BearerOpcode.LinkAck, GenericProvisioningFormat.ProvisioningBearerControl);
        return Length;
    }
}
