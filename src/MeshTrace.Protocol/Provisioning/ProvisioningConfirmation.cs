namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Confirmation: commits to the random value before it is shown (Mesh Protocol 1.1 §5.4.1.6).</summary>
/// <remarks>Type(8)=0x05 | Confirmation(16 octets, or 32 with BTM_ECDH_P256_HMAC_SHA256_AES_CCM).</remarks>
public readonly ref struct ProvisioningConfirmation
{
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningConfirmation(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>16 or 32 octets.</summary>
    public ReadOnlySpan<byte> Confirmation => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningConfirmation pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.Confirmation, out problem);
        pdu = good ? new ProvisioningConfirmation(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ReadOnlySpan<byte> confirmation)
    {
        if (confirmation.Length is not (16 or 32))
            throw new ArgumentException("Confirmation has 16 or 32 octets.", nameof(confirmation));
        return ProvisioningPdu.Write(destination, ProvisioningPduType.Confirmation, confirmation);
    }
}
