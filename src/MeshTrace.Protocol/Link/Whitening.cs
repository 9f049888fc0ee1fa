namespace MeshTrace.Protocol.Link;

/// <summary>
/// Data whitening of link-layer packets (Bluetooth Core Specification, volume 6 part B §3.2): a 7-bit register with x^7 + x^4 + 1 runs over
/// PDU
/// and CRC, least significant bit of each octet first. Doing it twice undoes it.
/// </summary>
public static class Whitening
{
    /// <summary>Whitens or dewhitens PDU and CRC in place.</summary>
    /// <param name="pduAndCrc">From the PDU header on.</param>
    /// <param name="channelIndex">0-39; lower six bits are used.</param>
    public static void Apply(Span<byte> pduAndCrc, int channelIndex)
    {
        // Bit i of the register is position i: position 0 is 1, positions 1-6 hold the channel index, its most significant bit in position
        // 1.
        int register = 1;
        for (int position = 1; position <= 6; position++)
            register |= ((channelIndex >> (6 - position)) & 1) << position;
        for (int i = 0; i < pduAndCrc.Length; i++)
        {
            int mask = 0;
            for (int bit = 0; bit < 8; bit++)
            {
                int output = register >> 6;
                mask |= output << bit;
                register = ((register << 1) & 0x7F) ^ (output * 0x11);   // back into position 0, and into position 4
            }
            pduAndCrc[i] ^= (byte)mask;
        }
    }
}
