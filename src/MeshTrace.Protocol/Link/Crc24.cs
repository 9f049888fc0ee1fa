using System.Buffers.Binary;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace MeshTrace.Protocol.Link;

/// <summary>
/// The CRC of link-layer packets (Bluetooth Core Specification, volume 6 part B §3.1.1): 24 bits,
/// x^24 + x^10 + x^9 + x^6 + x^4 + x^3 + x + 1, over the PDU without the access address.
/// </summary>
/// <remarks>
/// It runs for every frame of a capture, so sixteen octets are taken at a time: by carry-less multiplication where the processor has it
/// (<see cref="Crc24Folding"/>), else eight by eight from tables.
/// </remarks>
public static class Crc24
{
    /// <summary>Octets a CRC takes behind the PDU.</summary>
    public const int Length = 3;

    /// <summary>The initial value on advertising channels, primary and secondary.</summary>
    public const uint AdvertisingInitial = 0x555555;

    private const uint ReversedAdvertisingInitial = 0xAAAAAA;
    private const uint ReversedPolynomial = 0xDA6000;
    private const int Stride = 8;

    // Table k holds, for each octet, what it contributes when k more octets follow it; contributions add up by XOR, the code being linear.
    private static readonly uint[] Tables = BuildTables();

    /// <summary>
    /// The CRC of a PDU as the number whose three octets, low octet first, stand behind the PDU in the order they go over the air.
    /// </summary>
    /// <param name="pdu">PDU header and payload, dewhitened.</param>
    /// <param name="initial">Initial value of the register as the standard writes it: position 0 is its least significant bit.</param>
    public static uint Compute(ReadOnlySpan<byte> pdu, uint initial = AdvertisingInitial)
    {
        uint register = initial == AdvertisingInitial ? ReversedAdvertisingInitial : Reverse(initial);
        return Crc24Folding.IsSupported && pdu.Length >= Crc24Folding.Shortest
            ? Crc24Folding.Compute(pdu, register)
            : ComputeFromTables(pdu, register);
    }

    /// <summary>True if the three octets behind the PDU are its CRC.</summary>
    public static bool IsRight(ReadOnlySpan<byte> pdu, ReadOnlySpan<byte> crc, uint initial = AdvertisingInitial) =>
        Compute(pdu, initial) == (uint)(crc[0] | (crc[1] << 8) | (crc[2] << 16));

    /// <summary>
    /// The initial value with which the CRC of a PDU would be right: the register runs backward. Two PDUs of a connection that agree tell its CRCInit.
    /// </summary>
    /// <param name="crc">The three octets behind the PDU, first octet lowest.</param>
    public static uint InitialOf(ReadOnlySpan<byte> pdu, uint crc)
    {
        uint register = crc;
        for (int at = pdu.Length - 1; at >= 0; at--)
        {
            for (int bit = 7; bit >= 0; bit--)
            {
                uint output = (register >> 23) & 1;     // the polynomial sets the highest bit, shifting alone never does
                register = ((register ^ (output * ReversedPolynomial)) << 1) & 0xFFFFFF;
                register |= output ^ (((uint)pdu[at] >> bit) & 1);
            }
        }
        return Reverse(register);
    }

    /// <summary>Writes a CRC value behind a PDU.</summary>
    public static void Write(Span<byte> destination, uint crc)
    {
        destination[0] = (byte)(crc & 0xFF);
        destination[1] = (byte)((crc >> 8) & 0xFF);
        destination[2] = (byte)((crc >> 16) & 0xFF);
    }

    /// <summary>The way for every processor and every length; <paramref name="register"/> in the reversed form in which it runs.</summary>
    internal static uint ComputeFromTables(ReadOnlySpan<byte> pdu, uint register)
    {
        ref uint tables = ref MemoryMarshal.GetArrayDataReference(Tables);
        for (; pdu.Length >= Stride; pdu = pdu[Stride..])
        {
            ulong block = BinaryPrimitives.ReadUInt64LittleEndian(pdu) ^ register;
            register = Unsafe.Add(ref tables, 7 * 256 + (int)(block & 0xFF))
                ^ Unsafe.Add(ref tables, 6 * 256 + (int)((block >> 8) & 0xFF))
                ^ Unsafe.Add(ref tables, 5 * 256 + (int)((block >> 16) & 0xFF))
                ^ Unsafe.Add(ref tables, 4 * 256 + (int)((block >> 24) & 0xFF))
                ^ Unsafe.Add(ref tables, 3 * 256 + (int)((block >> 32) & 0xFF))
                ^ Unsafe.Add(ref tables, 2 * 256 + (int)((block >> 40) & 0xFF))
                ^ Unsafe.Add(ref tables, 1 * 256 + (int)((block >> 48) & 0xFF))
                ^ Unsafe.Add(ref tables, (int)(block >> 56));
        }
        foreach (byte octet in pdu)
            register = (register >> 8) ^ Unsafe.Add(ref tables, (int)((register ^ octet) & 0xFF));
        return register;
    }

    /// <summary>The 24 bits in the opposite order.</summary>
    internal static uint Reverse(uint value)
    {
        uint reversed = 0;
        for (int bit = 0; bit < 24; bit++)
            reversed |= ((value >> bit) & 1) << (23 - bit);
        return reversed;
    }

    private static uint[] BuildTables()
    {
        uint[] tables = new uint[Stride * 256];
        for (uint octet = 0; octet < 256; octet++)
        {
            uint register = octet;
            for (int k = 0; k < Stride; k++)
            {
                for (int bit = 0; bit < 8; bit++)
                    register = (register >> 1) ^ ((register & 1) != 0 ? ReversedPolynomial : 0);
                tables[k * 256 + octet] = register;
            }
        }
        return tables;
    }
}
