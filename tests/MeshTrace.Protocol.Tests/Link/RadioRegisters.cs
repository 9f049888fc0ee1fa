namespace MeshTrace.Protocol.Tests.Link;

/// <summary>
/// CRC and whitening a bit at a time, in the positions of the figures of Bluetooth Core Specification, volume 6 part B §3.1.1 and §3.2: an
/// independent calculation to compare with.
/// </summary>
internal static class RadioRegisters
{
    /// <summary>Register of 24 positions, begun with the initial value, position 0 its least significant bit; sent position 23
    /// first.</summary>
    public static byte[] Crc(ReadOnlySpan<byte> pdu, uint initial)
    {
        bool[] position = new bool[24];
        for (int i = 0; i < 24; i++)
            position[i] = (initial >> i & 1) != 0;
        foreach (byte octet in pdu)
            for (int bit = 0; bit < 8; bit++)
            {
                bool feedback = position[23] ^ ((octet >> bit & 1) != 0);
                for (int i = 23; i > 0; i--)
                    position[i] = position[i - 1] ^ (feedback && i is 1 or 3 or 4 or 6 or 9 or 10);
                position[0] = feedback;
            }
        byte[] sent = new byte[3];
        for (int i = 0; i < 24; i++)
            if (position[23 - i])
                sent[i / 8] |= (byte)(1 << i % 8);
        return sent;
    }

    /// <summary>Register of 7 positions: position 0 is 1, positions 1-6 the channel index, most significant bit in position 1.</summary>
    public static byte[] Whitening(int channelIndex, int length)
    {
        bool[] position = new bool[7];
        position[0] = true;
        for (int i = 1; i <= 6; i++)
            position[i] = (channelIndex >> (6 - i) & 1) != 0;
        byte[] sequence = new byte[length];
        for (int bit = 0; bit < 8 * length; bit++)
        {
            bool output = position[6];
            if (output)
                sequence[bit / 8] |= (byte)(1 << bit % 8);
            position = [output, position[0], position[1], position[2], position[3] ^ output, position[4], position[5]];
        }
        return sequence;
    }
}
