namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// Integers of 1 to 64 bits at any bit offset. Little-endian: a field fills from the least significant bit, the first field takes the low bits.
/// Big-endian: from the most significant bit (Mesh Protocol 1.1 §3.1.1).
/// </summary>
internal static class Bits
{
    /// <summary>The caller has checked that the bits are there.</summary>
    public static ulong Read(ReadOnlySpan<byte> octets, int bit, int width, bool bigEndian)
    {
        ulong value = 0;
        for (int done = 0; done < width;)
        {
            int offset = (bit + done) & 7;
            int take = Math.Min(8 - offset, width - done);
            uint octet = octets[(bit + done) >> 3];
            uint mask = (1u << take) - 1;
            if (bigEndian)
                value = (value << take) | ((octet >> (8 - offset - take)) & mask);
            else
                value |= (ulong)((octet >> offset) & mask) << done;
            done += take;
        }
        return value;
    }

    public static long ReadInteger(ReadOnlySpan<byte> octets, int bit, int width, bool bigEndian, bool signed)
    {
        ulong value = Read(octets, bit, width, bigEndian);
        return signed ? unchecked((long)(value << (64 - width)) >> (64 - width)) : unchecked((long)value);
    }

    /// <summary>The bits to be written are 0 before.</summary>
    public static void Write(Span<byte> octets, int bit, int width, bool bigEndian, ulong value)
    {
        for (int done = 0; done < width;)
        {
            int offset = (bit + done) & 7;
            int take = Math.Min(8 - offset, width - done);
            uint mask = (1u << take) - 1;
            uint part = (uint)((bigEndian ? value >> (width - done - take) : value >> done) & mask);
            octets[(bit + done) >> 3] |= (byte)(part << (bigEndian ? 8 - offset - take : offset));
            done += take;
        }
    }
}
