using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using Arm = System.Runtime.Intrinsics.Arm;
using X86 = System.Runtime.Intrinsics.X86;

namespace MeshTrace.Protocol.Security;

/// <summary>The AES rounds as the processor offers them (FIPS 197 §5.1). Ask <see cref="IsSupported"/> first.</summary>
internal static class AesRounds
{
    /// <summary>True where the processor has AES rounds and they give the example of FIPS 197 appendix C.1 on this machine.</summary>
    public static readonly bool IsSupported = (X86.Aes.IsSupported || Arm.Aes.IsSupported) && GivesTheExampleOfTheStandard();

    /// <summary>SubBytes, ShiftRows, MixColumns, AddRoundKey.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<byte> Next(Vector128<byte> state, Vector128<byte> roundKey) => X86.Aes.IsSupported
        ? X86.Aes.Encrypt(state, roundKey)
        // The Arm instruction adds the key first and leaves MixColumns to a second one: a key of zero gives the same order as above.
        : Arm.Aes.MixColumns(Arm.Aes.Encrypt(state, Vector128<byte>.Zero)) ^ roundKey;

    /// <summary>The last round, which has no MixColumns.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<byte> Last(Vector128<byte> state, Vector128<byte> roundKey) => X86.Aes.IsSupported
        ? X86.Aes.EncryptLast(state, roundKey)
        : Arm.Aes.Encrypt(state, Vector128<byte>.Zero) ^ roundKey;

    /// <summary>
    /// Key expansion of AES-128 (FIPS 197 §5.2). SubWord is the last round over four equal columns: ShiftRows changes nothing there.
    /// </summary>
    public static void Expand(ReadOnlySpan<byte> key, Span<Vector128<byte>> roundKeys)
    {
        roundKeys[0] = Vector128.Create(key);
        uint roundConstant = 1;
        for (int round = 1; round <= 10; round++)
        {
            Vector128<uint> previous = roundKeys[round - 1].AsUInt32();
            uint last = previous[3];
            uint rotated = (last >> 8) | (last << 24);
            uint word = Last(Vector128.Create(rotated).AsByte(), Vector128<byte>.Zero).AsUInt32()[0] ^ roundConstant;
            uint w0 = previous[0] ^ word, w1 = previous[1] ^ w0, w2 = previous[2] ^ w1, w3 = previous[3] ^ w2;
            roundKeys[round] = Vector128.Create(w0, w1, w2, w3).AsByte();
            roundConstant = (roundConstant << 1) ^ (roundConstant >= 0x80 ? 0x11Bu : 0u);
        }
    }

    private static bool GivesTheExampleOfTheStandard()
    {
        ReadOnlySpan<byte> key = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15];
        ReadOnlySpan<byte> plain =
            [0x00, 0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88, 0x99, 0xAA, 0xBB, 0xCC, 0xDD, 0xEE, 0xFF];
        ReadOnlySpan<byte> cipher =
            [0x69, 0xC4, 0xE0, 0xD8, 0x6A, 0x7B, 0x04, 0x30, 0xD8, 0xCD, 0xB7, 0x80, 0x70, 0xB4, 0xC5, 0x5A];
        Span<Vector128<byte>> roundKeys = stackalloc Vector128<byte>[11];
        Expand(key, roundKeys);
        Vector128<byte> state = Vector128.Create(plain) ^ roundKeys[0];
        for (int round = 1; round < 10; round++)
            state = Next(state, roundKeys[round]);
        return Last(state, roundKeys[10]) == Vector128.Create(cipher);
    }
}
