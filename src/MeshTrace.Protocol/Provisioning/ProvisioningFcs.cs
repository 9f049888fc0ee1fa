namespace MeshTrace.Protocol.Provisioning;

/// <summary>
/// Frame check sequence of a provisioning PDU (Mesh Protocol 1.1 §5.3): CRC-8 with x^8 + x^2 + x + 1, least significant bit first, register
/// begun with 0xFF, result complemented. Bit order and start value from memory; they give every FCS that §8.7 and §8.13 print.
/// </summary>
public static class ProvisioningFcs
{
    private const byte ReversedPolynomial = 0xE0;
    private static readonly byte[] Table = BuildTable();

    /// <summary>The FCS over the whole provisioning PDU, type octet included.</summary>
    public static byte Compute(ReadOnlySpan<byte> provisioningPdu)
    {
        byte register = 0xFF;
        foreach (byte octet in provisioningPdu)
            register = Table[register ^ octet];
        return (byte)(register ^ 0xFF);
    }

    private static byte[] BuildTable()
    {
        byte[] table = new byte[256];
        for (int octet = 0; octet < 256; octet++)
        {
            int register = octet;
            for (int bit = 0; bit < 8; bit++)
                register = (register >> 1) ^ ((register & 1) != 0 ? ReversedPolynomial : 0);
            table[octet] = (byte)register;
        }
        return table;
    }
}
