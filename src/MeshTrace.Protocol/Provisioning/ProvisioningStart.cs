namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Start: what the provisioner chose (Mesh Protocol 1.1 §5.4.1.3).</summary>
/// <remarks>Type(8)=0x02 | Algorithm(8) | PublicKey(8) | AuthenticationMethod(8) | AuthenticationAction(8) |
/// AuthenticationSize(8).</remarks>
public readonly ref struct ProvisioningStart
{
    public const int Length = 6;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningStart(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public ProvisioningAlgorithm Algorithm => (ProvisioningAlgorithm)_pdu[1];
    public PublicKeyUse PublicKey => (PublicKeyUse)_pdu[2];
    public AuthenticationMethod AuthenticationMethod => (AuthenticationMethod)_pdu[3];

    /// <summary>An <see cref="OutputOobAction"/> or <see cref="InputOobAction"/> as the method tells, else 0.</summary>
    public byte AuthenticationAction => _pdu[4];

    /// <summary>Length of the value shown or typed in (1-8 with output or input OOB), else 0.</summary>
    public byte AuthenticationSize => _pdu[5];

    /// <summary>The five octets of parameters, a part of ConfirmationInputs.</summary>
    public ReadOnlySpan<byte> Parameters => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningStart pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.Start, out problem);
        pdu = good ? new ProvisioningStart(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(
        Span<byte> destination, ProvisioningAlgorithm algorithm, PublicKeyUse publicKey, AuthenticationMethod method, byte action, byte size)
    {
        destination[0] = (byte)ProvisioningPduType.Start;
        destination[1] = (byte)algorithm;
        destination[2] = (byte)publicKey;
        destination[3] = (byte)method;
        destination[4] = action;
        destination[5] = size;
        return Length;
    }
}
