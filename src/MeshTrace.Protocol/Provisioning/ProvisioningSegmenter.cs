using MeshTrace.Protocol.Bearer;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>Cuts a provisioning PDU into the PDUs of one transaction on PB-ADV (Mesh Protocol 1.1 §5.3).</summary>
public static class ProvisioningSegmenter
{
    /// <summary>Highest SegN: it has six bits.</summary>
    public const int HighestSegN = 63;

    /// <summary>The longest provisioning PDU that segments 0-63 hold.</summary>
    public const int LongestProvisioningPdu = TransactionStart.LongestData + HighestSegN * TransactionContinuation.LongestData;

    /// <summary>Number of PDUs that a provisioning PDU of so many octets takes: SegN + 1.</summary>
    public static int SegmentCount(int length)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(length);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(length, LongestProvisioningPdu);
        int behindFirst = Math.Max(0, length - TransactionStart.LongestData);
        return 1 + (behindFirst + TransactionContinuation.LongestData - 1) / TransactionContinuation.LongestData;
    }

    /// <summary>Where the data of a segment begins in the provisioning PDU.</summary>
    public static int OffsetOf(int segment) =>
        segment == 0 ? 0 : TransactionStart.LongestData + (segment - 1) * TransactionContinuation.LongestData;

    /// <summary>Writes the Generic Provisioning PDU of one segment and returns its octets.</summary>
    public static int Write(Span<byte> destination, ReadOnlySpan<byte> provisioningPdu, int segment)
    {
        int segN = SegmentCount(provisioningPdu.Length) - 1;
        ArgumentOutOfRangeException.ThrowIfGreaterThan((uint)segment, (uint)segN, nameof(segment));
        ReadOnlySpan<byte> data = provisioningPdu[OffsetOf(segment)..(segment == segN ? provisioningPdu.Length : OffsetOf(segment + 1))];
        return segment == 0
            ? TransactionStart.Write(destination, (byte)segN, (ushort)provisioningPdu.Length, ProvisioningFcs.Compute(provisioningPdu), data)
            : TransactionContinuation.Write(destination, (byte)segment, data);
    }

    /// <summary>Writes the PB-ADV PDU of one segment and returns its octets.</summary>
    public static int WritePbAdv(
        Span<byte> destination, uint linkId, byte transactionNumber, ReadOnlySpan<byte> provisioningPdu, int segment)
    {
        Span<byte> generic = stackalloc byte[PbAdvPdu.LongestGenericProvisioningPdu];
        int length = Write(generic, provisioningPdu, segment);
        return PbAdvPdu.Write(destination, linkId, transactionNumber, generic[..length]);
    }
}
