using System.Buffers.Binary;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Capabilities: what the device can (Mesh Protocol 1.1 §5.4.1.2).</summary>
/// <remarks>Type(8)=0x01 | NumberOfElements(8) | Algorithms(16) | PublicKeyType(8) | OOBType(8) | OutputOOBSize(8) | OutputOOBAction(16) |
/// InputOOBSize(8) |
/// InputOOBAction(16); big-endian.</remarks>
public readonly ref struct ProvisioningCapabilities
{
    public const int Length = 12;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningCapabilities(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public byte NumberOfElements => _pdu[1];

    /// <summary>A bit for each <see cref="ProvisioningAlgorithm"/>.</summary>
    public ushort Algorithms => BinaryPrimitives.ReadUInt16BigEndian(_pdu[2..]);

    /// <summary>Bit 0: public key available out of band.</summary>
    public byte PublicKeyType => _pdu[4];

    /// <summary>Bit 0: static OOB information available; bit 1 (version 1.1): only OOB authenticated provisioning.</summary>
    public byte OobType => _pdu[5];

    /// <summary>Longest value that the device can output, 0-8.</summary>
    public byte OutputOobSize => _pdu[6];

    /// <summary>A bit for each <see cref="Provisioning.OutputOobAction"/>.</summary>
    public ushort OutputOobActions => BinaryPrimitives.ReadUInt16BigEndian(_pdu[7..]);

    /// <summary>Longest value that can be put into the device, 0-8.</summary>
    public byte InputOobSize => _pdu[9];

    /// <summary>A bit for each <see cref="Provisioning.InputOobAction"/>.</summary>
    public ushort InputOobActions => BinaryPrimitives.ReadUInt16BigEndian(_pdu[10..]);

    /// <summary>The eleven octets of parameters, a part of ConfirmationInputs.</summary>
    public ReadOnlySpan<byte> Parameters => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningCapabilities pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.Capabilities, out problem);
        pdu = good ? new ProvisioningCapabilities(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(
        Span<byte> destination, byte numberOfElements, ushort algorithms, byte publicKeyType, byte oobType, byte outputOobSize,
        ushort outputOobActions, byte inputOobSize, ushort inputOobActions)
    {
        destination[0] = (byte)ProvisioningPduType.Capabilities;
        destination[1] = numberOfElements;
        BinaryPrimitives.WriteUInt16BigEndian(destination[2..], algorithms);
        destination[4] = publicKeyType;
        destination[5] = oobType;
        destination[6] = outputOobSize;
        BinaryPrimitives.WriteUInt16BigEndian(destination[7..], outputOobActions);
        destination[9] = inputOobSize;
        BinaryPrimitives.WriteUInt16BigEndian(destination[10..], inputOobActions);
        return Length;
    }
}
