using System.Buffers.Binary;

namespace MeshTrace.Protocol.Bearer;

/// <summary>PB-ADV PDU, the data of an AD structure of type 0x29 (Mesh Protocol 1.1 §5.2.1).</summary>
/// <remarks>Link ID(32) | Transaction Number(8) | Generic Provisioning PDU(1-24 octets); big-endian.</remarks>
public readonly ref struct PbAdvPdu
{
    public const int HeaderLength = 5;

    /// <summary>Longest Generic Provisioning PDU: 31 octets of AdvData less AD structure header and PB-ADV header.</summary>
    public const int LongestGenericProvisioningPdu = 24;

    /// <summary>Transaction numbers from here on are the device's, those below the provisioner's.</summary>
    public const byte FirstTransactionNumberOfDevice = 0x80;

    private readonly ReadOnlySpan<byte> _pdu;

    private PbAdvPdu(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>Tells links apart; chosen at random by the provisioner.</summary>
    public uint LinkId => BinaryPrimitives.ReadUInt32BigEndian(_pdu);

    /// <summary>0x00-0x7F counted by the provisioner, 0x80-0xFF by the device; an acknowledgment repeats the number it answers; 0x00 for
    /// bearer control.</summary>
    public byte TransactionNumber => _pdu[4];

    /// <summary>Not empty.</summary>
    public ReadOnlySpan<byte> GenericProvisioningPdu => _pdu[HeaderLength..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    /// <remarks>Longer PDUs than fit into 31 octets are read: an extended advertising PDU has room for them.</remarks>
    public static bool TryRead(ReadOnlySpan<byte> octets, out PbAdvPdu pdu, out DecodeProblem problem)
    {
        pdu = default;
        problem = DecodeProblem.None;
        if (octets.Length <= HeaderLength)
            problem = DecodeProblem.TooShort(Layer.Bearer, HeaderLength + 1, octets.Length);
        else
            pdu = new PbAdvPdu(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, uint linkId, byte transactionNumber, ReadOnlySpan<byte> genericProvisioningPdu)
    {
        BinaryPrimitives.WriteUInt32BigEndian(destination, linkId);
        destination[4] = transactionNumber;
        genericProvisioningPdu.CopyTo(destination[HeaderLength..]);
        return HeaderLength + genericProvisioningPdu.Length;
    }
}
