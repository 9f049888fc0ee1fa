using System.Buffers.Binary;

namespace MeshTrace.Protocol.LowerTransport;

/// <summary>The three octets that the two segmented formats share: SZMIC or RFU(1) | SeqZero(13) | SegO(5) | SegN(5).</summary>
internal static class SegmentHeader
{
    /// <summary>SEG, key or opcode, and the three octets.</summary>
    public const int Length = 4;

    public static bool TopBit(ReadOnlySpan<byte> pdu) => (pdu[1] & 0x80) != 0;

    public static ushort SeqZero(ReadOnlySpan<byte> pdu) => (ushort)((BinaryPrimitives.ReadUInt16BigEndian(pdu[1..]) >> 2) & 0x1FFF);

    public static byte SegO(ReadOnlySpan<byte> pdu) => (byte)((BinaryPrimitives.ReadUInt16BigEndian(pdu[2..]) >> 5) & 0x1F);

    public static byte SegN(ReadOnlySpan<byte> pdu) => (byte)(pdu[3] & 0x1F);

    /// <summary>All segments but the last are full; the last has at least one octet; no segment follows the last one.</summary>
    public static DecodeProblem Check(ReadOnlySpan<byte> pdu, int segmentLength)
    {
        if (pdu.Length <= Length)
            return DecodeProblem.TooShort(Layer.LowerTransport, Length + 1, pdu.Length);
        if (pdu.Length > Length + segmentLength)
            return DecodeProblem.TooLong(Layer.LowerTransport, Length + segmentLength, pdu.Length);
        if ((pdu[0] & 0x80) == 0)
            return DecodeProblem.WrongValue(Layer.LowerTransport, 0, "SEG", 0);
        if (SegO(pdu) > SegN(pdu))
            return DecodeProblem.WrongValue(Layer.LowerTransport, 2, "SegO", SegO(pdu));
        if (SegO(pdu) < SegN(pdu) && pdu.Length < Length + segmentLength)
            return DecodeProblem.TooShort(Layer.LowerTransport, Length + segmentLength, pdu.Length, "Segment");
        return DecodeProblem.None;
    }

    public static int Write(Span<byte> pdu, byte first, bool topBit, ushort seqZero, byte segO, byte segN, ReadOnlySpan<byte> segment)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(seqZero, 0x1FFF);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(segN, 0x1F);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(segO, segN);
        uint fields = (topBit ? 0x800000u : 0u) | ((uint)seqZero << 10) | ((uint)segO << 5) | segN;
        BinaryPrimitives.WriteUInt32BigEndian(pdu, ((uint)(0x80 | first) << 24) | fields);
        segment.CopyTo(pdu[Length..]);
        return Length + segment.Length;
    }
}
