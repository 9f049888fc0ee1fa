using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace MeshTrace.Analysis.History;

/// <summary>
/// Room for some rows that lie beside each other in memory, perhaps in an array that has room for other stretches too. A reference to a row keeps that array,
/// as a reference into any array does. What stands in a new stretch is not known.
/// </summary>
/// <typeparam name="T">A row: octets only, no references.</typeparam>
internal readonly struct Stretch<T> where T : unmanaged
{
    /// <summary>The runtime aligns arrays of octets to 8 octets, which is all that a row asks for.</summary>
    private readonly byte[]? _octets;
    private readonly int _at;

    /// <param name="octets">Holds the stretch.</param>
    /// <param name="at">Where it begins in it: a multiple of 8.</param>
    /// <param name="length">Rows.</param>
    public Stretch(byte[] octets, int at, int length)
    {
        if (at < 0 || length < 0 || (at & 7) != 0 || at + ((long)length * Unsafe.SizeOf<T>()) > octets.Length)
            throw new ArgumentOutOfRangeException(nameof(at));
        _octets = octets;
        _at = at;
        Length = length;
    }

    /// <summary>What holds it; null without rows.</summary>
    internal byte[]? Array => _octets;

    /// <summary>Rows that it has room for.</summary>
    public int Length { get; }

    /// <summary>True if nothing else lies in its array: then it is given back by itself.</summary>
    public bool IsAlone => _octets is { } all && all.Length == Length * Unsafe.SizeOf<T>();

    public Span<T> Rows => Length == 0 ? [] : MemoryMarshal.CreateSpan(ref this[0], Length);

    /// <summary>A row by its number, which the caller has compared with <see cref="Length"/>.</summary>
    public ref T this[int row]
    {
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        get => ref Unsafe.Add(ref Unsafe.As<byte, T>(ref Unsafe.AddByteOffset(ref MemoryMarshal.GetArrayDataReference(_octets!), (nint)_at)), (nint)row);
    }

    /// <summary>Rows in an array of its own, of zeros.</summary>
    public static Stretch<T> OfItsOwn(int length) => new(FreshArray.Of<byte>(length * Unsafe.SizeOf<T>()), 0, length);
}
