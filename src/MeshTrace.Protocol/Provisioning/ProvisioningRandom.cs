namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Random: opens the confirmation (Mesh Protocol 1.1 §5.4.1.7).</summary>
/// <remarks>Type(8)=0x06 | Random(16 octets, or 32 with BTM_ECDH_P256_HMAC_SHA256_AES_CCM).</remarks>
public readonly ref struct ProvisioningRandom
{
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningRandom(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>16 or 32 octets.</summary>
    public ReadOnlySpan<byte> Random => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningRandom pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.Random, out problem);
        pdu = good ? new ProvisioningRandom(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ReadOnlySpan<byte> random)
    {
        if (random.Length is not (16 or 32))
            throw new ArgumentException("Random has 16 or 32 octets.", nameof(random));
        return ProvisioningPdu.Write(destination, ProvisioningPduType.Random, random);
    }
}
