using System.Buffers.Binary;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace MeshTrace.Protocol.Link;

/// <summary>
/// The CRC of link-layer packets (Bluetooth Core Specification, volume 6 part B §3.1.1): 24 bits,
/// x^24 + x^10 + x^9 + x^6 + x^4 + x^3 + x + 1, over the PDU without the access address.
/// </summary>
/// <remarks>
/// It runs for every frame of a capture, so sixteen octets are taken at a time from sixteen tables. Table k holds, for each octet, what it
/// contributes when k more octets follow it; contributions are combined by XOR because the code is linear.
/// </remarks>
public static class Crc24
{
    /// <summary>Octets a CRC takes behind the PDU.</summary>
    public const int Length = 3;

    /// <summary>The initial value on advertising channels, primary and secondary.</summary>
    public const uint AdvertisingInitial = 0x555555;

    private const uint ReversedPolynomial = 0xDA6000;
    private const int Stride = 16;
    private static readonly uint[] Tables = BuildTables();

    /// <summary>
    /// The CRC of a PDU as the number whose three octets, low octet first, stand behind the PDU in the order they go over the air.
    /// </summary>
    /// <param name="pdu">PDU header and payload, dewhitened.</param>
    /// <param name="initial">Initial value of the register as the standard writes it: position 0 is its least significant bit.</param>
    public static uint Compute(ReadOnlySpan<byte> pdu, uint initial = AdvertisingInitial)
    {
        uint register = initial == AdvertisingInitial ? 0xAAAAAA : Reverse24(initial);
        ref uint tables = ref MemoryMarshal.GetArrayDataReference(Tables);
        int head = pdu.Length % Stride;
        if (head != 0)
        {
            register = pdu.Length >= Stride && head >= Length
                ? Head(ref tables, pdu, head, register)
                : OctetByOctet(ref tables, pdu[..head], register);
            pdu = pdu[head..];
        }
        while (pdu.Length >= Stride)
        {
            ulong low = BinaryPrimitives.ReadUInt64LittleEndian(pdu) ^ register;
            ulong high = BinaryPrimitives.ReadUInt64LittleEndian(pdu[8..]);
            register = Eight(ref Unsafe.Add(ref tables, 8 * 256), low) ^ Eight(ref tables, high);
            pdu = pdu[Stride..];
        }
        return register;
    }

    /// <summary>True if the three octets behind the PDU are its CRC.</summary>
    public static bool IsRight(ReadOnlySpan<byte> pdu, ReadOnlySpan<byte> crc, uint initial = AdvertisingInitial) =>
        Compute(pdu, initial) == (uint)(crc[0] | (crc[1] << 8) | (crc[2] << 16));

    /// <summary>Writes a CRC value behind a PDU.</summary>
    public static void Write(Span<byte> destination, uint crc)
    {
        destination[0] = (byte)(crc & 0xFF);
        destination[1] = (byte)((crc >> 8) & 0xFF);
        destination[2] = (byte)((crc >> 16) & 0xFF);
    }

    /// <summary>
    /// The first octets, so that whole strides follow. With the register folded into the first three octets, zeros in front change nothing:
    /// the head becomes a block that ends with it.
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static uint Head(ref uint tables, ReadOnlySpan<byte> pdu, int head, uint register)
    {
        ulong low = BinaryPrimitives.ReadUInt64LittleEndian(pdu) ^ register;
        if (head <= 8)
            return Eight(ref tables, low << (64 - 8 * head));
        ulong high = BinaryPrimitives.ReadUInt64LittleEndian(pdu[8..]);
        int shift = 8 * (Stride - head);
        high = (high << shift) | (low >> (64 - shift));
        return Eight(ref Unsafe.Add(ref tables, 8 * 256), low << shift) ^ Eight(ref tables, high);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static uint Eight(ref uint tables, ulong block) =>
        Unsafe.Add(ref tables, 7 * 256 + (int)(block & 0xFF))
        ^ Unsafe.Add(ref tables, 6 * 256 + (int)((block >> 8) & 0xFF))
        ^ Unsafe.Add(ref tables, 5 * 256 + (int)((block >> 16) & 0xFF))
        ^ Unsafe.Add(ref tables, 4 * 256 + (int)((block >> 24) & 0xFF))
        ^ Unsafe.Add(ref tables, 3 * 256 + (int)((block >> 32) & 0xFF))
        ^ Unsafe.Add(ref tables, 2 * 256 + (int)((block >> 40) & 0xFF))
        ^ Unsafe.Add(ref tables, 1 * 256 + (int)((block >> 48) & 0xFF))
        ^ Unsafe.Add(ref tables, (int)(block >> 56));

    private static uint OctetByOctet(ref uint tables, ReadOnlySpan<byte> octets, uint register)
    {
        foreach (byte octet in octets)
            register = (register >> 8) ^ Unsafe.Add(ref tables, (int)((register ^ octet) & 0xFF));
        return register;
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

    private static uint Reverse24(uint value)
    {
        uint reversed = 0;
        for (int bit = 0; bit < 24; bit++)
            reversed |= ((value >> bit) & 1) << (23 - bit);
        return reversed;
    }
}
