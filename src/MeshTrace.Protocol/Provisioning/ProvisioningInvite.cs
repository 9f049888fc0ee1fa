namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Invite: the provisioner begins (Mesh Protocol 1.1 §5.4.1.1).</summary>
/// <remarks>Type(8)=0x00 | AttentionDuration(8).</remarks>
public readonly ref struct ProvisioningInvite
{
    public const int Length = 2;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningInvite(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>Seconds for which the device shows itself; 0: not.</summary>
    public byte AttentionDuration => _pdu[1];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningInvite pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.Invite, out problem);
        pdu = good ? new ProvisioningInvite(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, byte attentionDuration)
    {
        destination[0] = (byte)ProvisioningPduType.Invite;
        destination[1] = attentionDuration;
        return Length;
    }
}
