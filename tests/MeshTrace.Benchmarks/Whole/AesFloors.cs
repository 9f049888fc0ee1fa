using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>
/// What four AES blocks cost on this processor and nothing else: the states never leave the registers, and no call, branch or store stands between them.
/// </summary>
internal sealed class AesFloors
{
    /// <summary>Blocks that the floors count as one PDU.</summary>
    public const int BlocksOfOnePdu = 4;

    private readonly Vector128<byte>[] _roundKeys = new Vector128<byte>[11];

    public AesFloors(ReadOnlySpan<byte> key) => AesRounds.Expand(key, _roundKeys);

    /// <summary>Each block is the one before, encrypted.</summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    public int Chained(int pdus)
    {
        ReadOnlySpan<Vector128<byte>> k = _roundKeys.AsSpan(0, 11);
        Vector128<byte> state = Vector128<byte>.Zero;
        for (int i = 0; i < pdus * BlocksOfOnePdu; i++)
        {
            state ^= k[0];
            state = AesRounds.Next(AesRounds.Next(AesRounds.Next(state, k[1]), k[2]), k[3]);
            state = AesRounds.Next(AesRounds.Next(AesRounds.Next(state, k[4]), k[5]), k[6]);
            state = AesRounds.Next(AesRounds.Next(AesRounds.Next(state, k[7]), k[8]), k[9]);
            state = AesRounds.Last(state, k[10]);
        }
        return state[0];
    }

    /// <summary>Four blocks at a time that do not know of each other, nor of the four before.</summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    public int FourAtOnce(int pdus)
    {
        ReadOnlySpan<Vector128<byte>> k = _roundKeys.AsSpan(0, 11);
        Vector128<byte> sum = Vector128<byte>.Zero, next = Vector128<byte>.Zero;
        for (int i = 0; i < pdus * BlocksOfOnePdu; i += 4)
        {
            Vector128<byte> a = next ^ k[0], b = a ^ k[1], c = a ^ k[2], d = a ^ k[3];
            for (int round = 1; round < 10; round++)
            {
                Vector128<byte> roundKey = k[round];
                (a, b, c, d) = (AesRounds.Next(a, roundKey), AesRounds.Next(b, roundKey), AesRounds.Next(c, roundKey), AesRounds.Next(d, roundKey));
            }
            (a, b, c, d) = (AesRounds.Last(a, k[10]), AesRounds.Last(b, k[10]), AesRounds.Last(c, k[10]), AesRounds.Last(d, k[10]));
            sum ^= a ^ b ^ c ^ d;
            next += Vector128<byte>.One;
        }
        return sum[0];
    }

    /// <summary>The same with eight: more than four of them can be under way on some processors.</summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    public int EightAtOnce(int pdus)
    {
        ReadOnlySpan<Vector128<byte>> keys = _roundKeys.AsSpan(0, 11);
        Vector128<byte> sum = Vector128<byte>.Zero, next = Vector128<byte>.Zero;
        for (int i = 0; i < pdus * BlocksOfOnePdu; i += 8)
        {
            Vector128<byte> a = next ^ keys[0], b = a ^ keys[1], c = a ^ keys[2], d = a ^ keys[3], e = a ^ keys[4], f = a ^ keys[5], g = a ^ keys[6], h = a ^ keys[7];
            for (int round = 1; round < 10; round++)
            {
                Vector128<byte> k = keys[round];
                (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
                (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
            }
            Vector128<byte> last = keys[10];
            (a, b, c, d) = (AesRounds.Last(a, last), AesRounds.Last(b, last), AesRounds.Last(c, last), AesRounds.Last(d, last));
            (e, f, g, h) = (AesRounds.Last(e, last), AesRounds.Last(f, last), AesRounds.Last(g, last), AesRounds.Last(h, last));
            sum ^= a ^ b ^ c ^ d ^ e ^ f ^ g ^ h;
            next += Vector128<byte>.One;
        }
        return sum[0];
    }
}
