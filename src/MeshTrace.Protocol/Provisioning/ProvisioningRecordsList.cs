using System.Buffers.Binary;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Records List: the records that the device keeps (Mesh Protocol 1.1 §5.4.1.14).</summary>
/// <remarks>Type(8)=0x0D | ProvisioningExtensions(16) | RecordID(16), repeated; big-endian.</remarks>
public readonly ref struct ProvisioningRecordsList
{
    public const int HeaderLength = 3;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningRecordsList(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>A bit for each extension.</summary>
    public ushort ProvisioningExtensions => BinaryPrimitives.ReadUInt16BigEndian(_pdu[1..]);

    public int RecordCount => (_pdu.Length - HeaderLength) / 2;

    /// <summary>One of the record identifiers, counted from 0.</summary>
    public ushort RecordId(int index)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual((uint)index, (uint)RecordCount, nameof(index));
        return BinaryPrimitives.ReadUInt16BigEndian(_pdu[(HeaderLength + 2 * index)..]);
    }

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningRecordsList pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.RecordsList, out problem);
        pdu = good ? new ProvisioningRecordsList(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ushort provisioningExtensions, ReadOnlySpan<ushort> recordIds)
    {
        destination[0] = (byte)ProvisioningPduType.RecordsList;
        BinaryPrimitives.WriteUInt16BigEndian(destination[1..], provisioningExtensions);
        for (int i = 0; i < recordIds.Length; i++)
            BinaryPrimitives.WriteUInt16BigEndian(destination[(HeaderLength + 2 * i)..], recordIds[i]);
        return HeaderLength + 2 * recordIds.Length;
    }
}
