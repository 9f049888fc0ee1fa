using System.Buffers.Binary;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Record Response: a part of a record (Mesh Protocol 1.1 §5.4.1.12).</summary>
/// <remarks>Type(8)=0x0B | Status(8) | RecordID(16) | FragmentOffset(16) | TotalLength(16) | Data; big-endian.</remarks>
public readonly ref struct ProvisioningRecordResponse
{
    public const int HeaderLength = 8;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningRecordResponse(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public RecordResponseStatus Status => (RecordResponseStatus)_pdu[1];
    public ushort RecordId => BinaryPrimitives.ReadUInt16BigEndian(_pdu[2..]);
    public ushort FragmentOffset => BinaryPrimitives.ReadUInt16BigEndian(_pdu[4..]);

    /// <summary>Octets of the whole record.</summary>
    public ushort TotalLength => BinaryPrimitives.ReadUInt16BigEndian(_pdu[6..]);

    /// <summary>Empty unless Status is Success.</summary>
    public ReadOnlySpan<byte> Data => _pdu[HeaderLength..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningRecordResponse pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.RecordResponse, out problem);
        pdu = good ? new ProvisioningRecordResponse(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(
        Span<byte> destination, RecordResponseStatus status, ushort recordId, ushort fragmentOffset, ushort totalLength, ReadOnlySpan<byte> data)
    {
        destination[0] = (byte)ProvisioningPduType.RecordResponse;
        destination[1] = (byte)status;
        BinaryPrimitives.WriteUInt16BigEndian(destination[2..], recordId);
        BinaryPrimitives.WriteUInt16BigEndian(destination[4..], fragmentOffset);
        BinaryPrimitives.WriteUInt16BigEndian(destination[6..], totalLength);
        data.CopyTo(destination[HeaderLength..]);
        return HeaderLength + data.Length;
    }
}
