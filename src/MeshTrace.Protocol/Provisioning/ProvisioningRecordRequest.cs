using System.Buffers.Binary;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Record Request: the provisioner asks for a part of a record (Mesh Protocol 1.1 §5.4.1.11).</summary>
/// <remarks>Type(8)=0x0A | RecordID(16) | FragmentOffset(16) | FragmentMaximumSize(16); big-endian.</remarks>
public readonly ref struct ProvisioningRecordRequest
{
    public const int Length = 7;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningRecordRequest(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public ushort RecordId => BinaryPrimitives.ReadUInt16BigEndian(_pdu[1..]);
    public ushort FragmentOffset => BinaryPrimitives.ReadUInt16BigEndian(_pdu[3..]);
    public ushort FragmentMaximumSize => BinaryPrimitives.ReadUInt16BigEndian(_pdu[5..]);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningRecordRequest pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.RecordRequest, out problem);
        pdu = good ? new ProvisioningRecordRequest(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ushort recordId, ushort fragmentOffset, ushort fragmentMaximumSize)
    {
        destination[0] = (byte)ProvisioningPduType.RecordRequest;
        BinaryPrimitives.WriteUInt16BigEndian(destination[1..], recordId);
        BinaryPrimitives.WriteUInt16BigEndian(destination[3..], fragmentOffset);
        BinaryPrimitives.WriteUInt16BigEndian(destination[5..], fragmentMaximumSize);
        return Length;
    }
}
