using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace MeshTrace.Protocol.Security;

/// <remarks>The processor's rounds alone, for who has asked <see cref="IsProcessorPath"/>: with no way out to the engine the states never leave the registers.</remarks>
public sealed partial class AesKey
{
    /// <summary>One block under the processor's rounds.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    internal Vector128<byte> EncryptProcessor(Vector128<byte> a)
    {
        a ^= _k0;
        a = AesRounds.Next(a, _k1);
        a = AesRounds.Next(a, _k2);
        a = AesRounds.Next(a, _k3);
        a = AesRounds.Next(a, _k4);
        a = AesRounds.Next(a, _k5);
        a = AesRounds.Next(a, _k6);
        a = AesRounds.Next(a, _k7);
        a = AesRounds.Next(a, _k8);
        a = AesRounds.Next(a, _k9);
        return AesRounds.Last(a, _k10);
    }

    /// <summary>Four independent blocks under the processor's rounds, interleaved.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    internal void EncryptProcessor(ref Vector128<byte> a, ref Vector128<byte> b, ref Vector128<byte> c, ref Vector128<byte> d)
    {
        Vector128<byte> k = _k0, w = a ^ k, x = b ^ k, y = c ^ k, z = d ^ k;
        k = _k1;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k2;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k3;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k4;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k5;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k6;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k7;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k8;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k9;
        (w, x, y, z) = (AesRounds.Next(w, k), AesRounds.Next(x, k), AesRounds.Next(y, k), AesRounds.Next(z, k));
        k = _k10;
        (a, b, c, d) = (AesRounds.Last(w, k), AesRounds.Last(x, k), AesRounds.Last(y, k), AesRounds.Last(z, k));
    }

    /// <summary>
    /// Eight independent blocks under the processor's rounds, interleaved. A round key is loaded once for the eight: loaded for each block, the loads take longer than the rounds.
    /// </summary>
    /// <remarks>Not inlined: eight states and a key take more than half of the registers, and the caller's constants would push them out.</remarks>
    [MethodImpl(MethodImplOptions.NoInlining)]
    internal void EncryptProcessor(ref readonly Eight<Vector128<byte>> blocks, Vector128<byte> difference, ref Eight<Vector128<byte>> encrypted)
    {
        Vector128<byte> k = _k0 ^ difference, a = blocks[0] ^ k, b = blocks[1] ^ k, c = blocks[2] ^ k, d = blocks[3] ^ k, e = blocks[4] ^ k, f = blocks[5] ^ k, g = blocks[6] ^ k, h = blocks[7] ^ k;
        k = _k1;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k2;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k3;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k4;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k5;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k6;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k7;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k8;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k9;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k10;
        (encrypted[0], encrypted[1], encrypted[2], encrypted[3]) = (AesRounds.Last(a, k), AesRounds.Last(b, k), AesRounds.Last(c, k), AesRounds.Last(d, k));
        (encrypted[4], encrypted[5], encrypted[6], encrypted[7]) = (AesRounds.Last(e, k), AesRounds.Last(f, k), AesRounds.Last(g, k), AesRounds.Last(h, k));
    }

    /// <summary>The same, with a block of its own to XOR to each: what chains the blocks of a MAC (RFC 3610 §2.2).</summary>
    /// <remarks>The rounds stand here again: shared through an inlined helper, they were slower.</remarks>
    [MethodImpl(MethodImplOptions.NoInlining)]
    internal void EncryptProcessor(ref readonly Eight<Vector128<byte>> blocks, ref readonly Eight<Vector128<byte>> differences, ref Eight<Vector128<byte>> encrypted)
    {
        Vector128<byte> k = _k0, a = blocks[0] ^ differences[0] ^ k, b = blocks[1] ^ differences[1] ^ k, c = blocks[2] ^ differences[2] ^ k, d = blocks[3] ^ differences[3] ^ k, e = blocks[4] ^ differences[4] ^ k, f = blocks[5] ^ differences[5] ^ k, g = blocks[6] ^ differences[6] ^ k, h = blocks[7] ^ differences[7] ^ k;
        k = _k1;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k2;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k3;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k4;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k5;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k6;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k7;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k8;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k9;
        (a, b, c, d) = (AesRounds.Next(a, k), AesRounds.Next(b, k), AesRounds.Next(c, k), AesRounds.Next(d, k));
        (e, f, g, h) = (AesRounds.Next(e, k), AesRounds.Next(f, k), AesRounds.Next(g, k), AesRounds.Next(h, k));
        k = _k10;
        (encrypted[0], encrypted[1], encrypted[2], encrypted[3]) = (AesRounds.Last(a, k), AesRounds.Last(b, k), AesRounds.Last(c, k), AesRounds.Last(d, k));
        (encrypted[4], encrypted[5], encrypted[6], encrypted[7]) = (AesRounds.Last(e, k), AesRounds.Last(f, k), AesRounds.Last(g, k), AesRounds.Last(h, k));
    }
}
