namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Public Key: of the provisioner, then of the device (Mesh Protocol 1.1 §5.4.1.4).</summary>
/// <remarks>Type(8)=0x03 | PublicKeyX(32 octets) | PublicKeyY(32 octets); coordinates on P-256, big-endian.</remarks>
public readonly ref struct ProvisioningPublicKey
{
    public const int Length = 65;
    private const int CoordinateLength = 32;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningPublicKey(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public ReadOnlySpan<byte> PublicKeyX => _pdu.Slice(1, CoordinateLength);
    public ReadOnlySpan<byte> PublicKeyY => _pdu.Slice(1 + CoordinateLength, CoordinateLength);

    /// <summary>Both coordinates, a part of ConfirmationInputs.</summary>
    public ReadOnlySpan<byte> Parameters => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningPublicKey pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.PublicKey, out problem);
        pdu = good ? new ProvisioningPublicKey(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ReadOnlySpan<byte> publicKeyX, ReadOnlySpan<byte> publicKeyY)
    {
        ArgumentOutOfRangeException.ThrowIfNotEqual(publicKeyX.Length, CoordinateLength, nameof(publicKeyX));
        ArgumentOutOfRangeException.ThrowIfNotEqual(publicKeyY.Length, CoordinateLength, nameof(publicKeyY));
        destination[0] = (byte)ProvisioningPduType.PublicKey;
        publicKeyX.CopyTo(destination[1..]);
        publicKeyY.CopyTo(destination[(1 + CoordinateLength)..]);
        return Length;
    }
}
