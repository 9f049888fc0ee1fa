using System.Buffers.Binary;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>Transaction Start PDU: the first segment of a provisioning PDU (Mesh Protocol 1.1 §5.3).</summary>
/// <remarks>SegN(6) | GPCF(2)=0b00 | TotalLength(16) | FCS(8) | Data; big-endian.</remarks>
public readonly ref struct TransactionStart
{
    public const int HeaderLength = 4;

    /// <summary>Octets of data that a PB-ADV PDU has room for.</summary>
    public const int LongestData = 20;

    private readonly ReadOnlySpan<byte> _pdu;

    private TransactionStart(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>Number of the last segment: 0 if this is the only one.</summary>
    public byte SegN => (byte)(_pdu[0] >> GenericProvisioning.FormatBits);

    /// <summary>Octets of the provisioning PDU.</summary>
    public ushort TotalLength => BinaryPrimitives.ReadUInt16BigEndian(_pdu[1..]);

    /// <summary>Frame check sequence over the whole provisioning PDU, see <see cref="ProvisioningFcs"/>.</summary>
    public byte Fcs => _pdu[3];

    /// <summary>Segment 0; not empty.</summary>
    public ReadOnlySpan<byte> Data => _pdu[HeaderLength..];

    /// <summary>Every check is here; once it has returned true, no property can fail. Whether SegN fits TotalLength is the reassembly's
    /// question.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out TransactionStart start, out DecodeProblem problem)
    {
        problem = GenericProvisioning.CheckFormat(pdu, GenericProvisioningFormat.TransactionStart, HeaderLength + 1, int.MaxValue);
        start = problem.IsProblem ? default : new TransactionStart(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, byte segN, ushort totalLength, byte fcs, ReadOnlySpan<byte> data)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(segN, 63);
        destination[0] = GenericProvisioning.FirstOctet(segN, GenericProvisioningFormat.TransactionStart);
        BinaryPrimitives.WriteUInt16BigEndian(destination[1..], totalLength);
        destination[3] = fcs;
        data.CopyTo(destination[HeaderLength..]);
        return HeaderLength + data.Length;
    }
}
