using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.X86;

namespace MeshTrace.Protocol.Link;

/// <summary>The CRC of <see cref="Crc24"/> by carry-less multiplication, sixteen octets a step.</summary>
/// <remarks>
/// Octets are polynomials whose highest power stands in the lowest bit, so sixteen octets read little-endian are one of degree 127 with
/// x^127 in
/// bit 0. The product of two 64-bit numbers of this kind comes out multiplied by x once more, because 63 + 63 is 126: the constants are one
/// power
/// lower for it.
/// </remarks>
internal static class Crc24Folding
{
    /// <summary>Shortest PDU that <see cref="Compute"/> takes.</summary>
    public const int Shortest = Stride;

    public static bool IsSupported => Pclmulqdq.IsSupported && Ssse3.IsSupported;

    private const int Stride = 16;
    private const uint Polynomial = 0x100065B;
    private const int Degree = 24;

    // Written out, as constants are part of the instructions where the program is compiled before it runs. A test compares them with their definitions.

    // Moves a block sixteen octets on: its first half by x^192, its second half by x^128.
    private static Vector128<ulong> FoldBy128 => Vector128.Create(0xF1A7F70000000000ul, 0x00419E0000000000ul);

    // Moves the first half of a block onto its second half: by x^64.
    private static Vector128<ulong> FoldBy64 => Vector128.Create(0x1B3B390000000000ul, 0);

    // Division by multiplication with the reciprocal: floor(x^88 / polynomial), x^64 in bit 0; then the polynomial without x^24.
    private static Vector128<ulong> ReciprocalAndPolynomial => Vector128.Create(0x9DFB391051B4C001ul, 0xDA60000000000000ul);

    /// <summary>The constants, as they are used.</summary>
    internal static Vector128<ulong>[] Constants => [FoldBy128, FoldBy64, ReciprocalAndPolynomial];

    /// <summary>The constants, as they are defined.</summary>
    internal static Vector128<ulong>[] DefinedConstants =>
        [Vector128.Create(Remainder(191), Remainder(127)), Vector128.Create(Remainder(63), 0), Vector128.Create(Reciprocal(), (ulong)Crc24.Reverse(Polynomial) << 40)];

    // From offset n on: 16 - n times "zero", then the octets 0 to n - 1.
    private static ReadOnlySpan<byte> ShiftedOctets =>
    [
        0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80,
        0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15,
    ];

    /// <param name="pdu">At least <see cref="Shortest"/> octets.</param>
    /// <param name="register">Initial value, reversed.</param>
    public static uint Compute(ReadOnlySpan<byte> pdu, uint register)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(pdu.Length, Shortest, nameof(pdu));
        ref byte octets = ref MemoryMarshal.GetReference(pdu);
        int head = pdu.Length % Stride;
        Vector128<byte> initial = Vector128.CreateScalar(register).AsByte();   // added to the first three octets it has had its effect
        Vector128<ulong> block = (Vector128.LoadUnsafe(ref octets) ^ initial).AsUInt64();
        int next = Stride;
        if (head != 0)
        {
            // The octets that do not fill a block go first, zeros in front of them: those change nothing. With fewer than three octets a
            // part of the initial value is left for the block behind.
            block = Ssse3.Shuffle(block.AsByte(), Vector128.LoadUnsafe(ref MemoryMarshal.GetReference(ShiftedOctets), (nuint)head)).AsUInt64();
            next = head;
            if (head < 3)
            {
                block = Fold(block) ^ Vector128.LoadUnsafe(ref octets, (nuint)head).AsUInt64()
                    ^ Vector128.CreateScalar((ulong)(register >> (8 * head)));
                next += Stride;
            }
        }
        for (; next < pdu.Length; next += Stride)
            block = Fold(block) ^ Vector128.LoadUnsafe(ref octets, (nuint)next).AsUInt64();

        Vector128<ulong> once = Pclmulqdq.CarrylessMultiply(block, FoldBy64, 0x00);
        Vector128<ulong> rest = Pclmulqdq.CarrylessMultiply(once, FoldBy64, 0x00) ^ once ^ block;   // 64 bits, in the upper half
        Vector128<ulong> quotient = Pclmulqdq.CarrylessMultiply(rest, ReciprocalAndPolynomial, 0x01);
        return (uint)(Pclmulqdq.CarrylessMultiply(quotient, ReciprocalAndPolynomial, 0x10)[1] >> 39);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<ulong> Fold(Vector128<ulong> block) =>
        Pclmulqdq.CarrylessMultiply(block, FoldBy128, 0x00) ^ Pclmulqdq.CarrylessMultiply(block, FoldBy128, 0x11);

    /// <summary>x^n modulo the polynomial, x^63 in bit 0.</summary>
    private static ulong Remainder(int n)
    {
        uint power = 1;
        for (int i = 0; i < n; i++)
        {
            power <<= 1;
            power ^= power >> Degree != 0 ? Polynomial : 0;
        }
        return (ulong)Crc24.Reverse(power) << 40;
    }

    /// <summary>floor(x^88 / polynomial) without x^0, x^64 in bit 0.</summary>
    private static ulong Reciprocal()
    {
        ulong quotient = 0;
        uint rest = 0;
        for (int power = 64 + Degree; power > 0; power--)
        {
            rest = (rest << 1) | (power == 64 + Degree ? 1u : 0);
            if (rest >> Degree == 0)
                continue;
            rest ^= Polynomial;
            quotient |= 1UL << (64 - power);
        }
        return quotient;
    }
}
