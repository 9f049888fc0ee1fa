using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using Org.BouncyCastle.Crypto;
using Org.BouncyCastle.Crypto.Parameters;

namespace MeshTrace.Protocol.Security;

/// <summary>
/// An AES-128 key, expanded once for encryption, which is all that the mesh needs (the function e of Mesh Protocol 1.1 §3.9.2).
/// Immutable, and safe to use from several threads at once.
/// </summary>
/// <remarks>
/// Two paths give the same octets: the processor's AES rounds, and BouncyCastle's engine where there are none. Only the first one interleaves
/// blocks that do not depend on each other, which hides the latency of the rounds.
/// </remarks>
public sealed partial class AesKey
{
    /// <summary>Octets of a key.</summary>
    public const int Length = 16;

    /// <summary>Octets of a block.</summary>
    public const int BlockLength = 16;

    private readonly Vector128<byte> _k0, _k1, _k2, _k3, _k4, _k5, _k6, _k7, _k8, _k9, _k10;
    private readonly IBlockCipher? _engine;

    /// <summary>Expands the key on the fastest path of this machine.</summary>
    /// <exception cref="ArgumentException">The key has not 16 octets.</exception>
    public AesKey(ReadOnlySpan<byte> key)
        : this(key, AesRounds.IsSupported ? null : Org.BouncyCastle.Crypto.AesUtilities.CreateEngine())
    {
    }

    /// <summary>Expands the key for <paramref name="engine"/>, or for the processor's rounds where that is null.</summary>
    internal AesKey(ReadOnlySpan<byte> key, IBlockCipher? engine)
    {
        if (key.Length != Length)
            throw new ArgumentException("An AES-128 key has 16 octets.", nameof(key));
        if (engine is not null)
        {
            engine.Init(forEncryption: true, new KeyParameter(key));
            _engine = engine;
            return;
        }
        Span<Vector128<byte>> k = stackalloc Vector128<byte>[11];
        AesRounds.Expand(key, k);
        (_k0, _k1, _k2, _k3, _k4, _k5, _k6, _k7, _k8, _k9, _k10) = (k[0], k[1], k[2], k[3], k[4], k[5], k[6], k[7], k[8], k[9], k[10]);
    }

    /// <summary>True where this key uses the processor's AES rounds.</summary>
    public bool IsProcessorPath => _engine is null;

    /// <summary>Encrypts one block of 16 octets; <paramref name="output"/> may be the same memory as <paramref name="block"/>.</summary>
    /// <exception cref="ArgumentException">A span has fewer than 16 octets.</exception>
    public void Encrypt(ReadOnlySpan<byte> block, Span<byte> output)
    {
        if (block.Length < BlockLength || output.Length < BlockLength)
            throw new ArgumentException("A block has 16 octets.");
        Encrypt(Vector128.Create(block)).CopyTo(output);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    internal Vector128<byte> Encrypt(Vector128<byte> a) => _engine is null ? EncryptProcessor(a) : EncryptByEngine(a);

    /// <summary>Two independent blocks, their rounds interleaved.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    internal void Encrypt(ref Vector128<byte> a, ref Vector128<byte> b)
    {
        if (_engine is not null)
        {
            a = EncryptByEngine(a);
            b = EncryptByEngine(b);
            return;
        }
        Vector128<byte> x = a ^ _k0, y = b ^ _k0;
        (x, y) = (AesRounds.Next(x, _k1), AesRounds.Next(y, _k1));
        (x, y) = (AesRounds.Next(x, _k2), AesRounds.Next(y, _k2));
        (x, y) = (AesRounds.Next(x, _k3), AesRounds.Next(y, _k3));
        (x, y) = (AesRounds.Next(x, _k4), AesRounds.Next(y, _k4));
        (x, y) = (AesRounds.Next(x, _k5), AesRounds.Next(y, _k5));
        (x, y) = (AesRounds.Next(x, _k6), AesRounds.Next(y, _k6));
        (x, y) = (AesRounds.Next(x, _k7), AesRounds.Next(y, _k7));
        (x, y) = (AesRounds.Next(x, _k8), AesRounds.Next(y, _k8));
        (x, y) = (AesRounds.Next(x, _k9), AesRounds.Next(y, _k9));
        (a, b) = (AesRounds.Last(x, _k10), AesRounds.Last(y, _k10));
    }

    /// <summary>Four independent blocks, their rounds interleaved.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    internal void Encrypt(ref Vector128<byte> a, ref Vector128<byte> b, ref Vector128<byte> c, ref Vector128<byte> d)
    {
        if (_engine is not null)
        {
            a = EncryptByEngine(a);
            b = EncryptByEngine(b);
            c = EncryptByEngine(c);
            d = EncryptByEngine(d);
            return;
        }
        EncryptProcessor(ref a, ref b, ref c, ref d);
    }

    [MethodImpl(MethodImplOptions.NoInlining)]
    private Vector128<byte> EncryptByEngine(Vector128<byte> block)
    {
        Span<byte> input = stackalloc byte[BlockLength], output = stackalloc byte[BlockLength];
        block.CopyTo(input);
        _engine!.ProcessBlock(input, output);   // stateless after Init, so several threads may be in here at once
        return Vector128.Create<byte>(output);
    }

    /// <summary>Never shows the octets of the key.</summary>
    public override string ToString() => "AES-128 key";
}
