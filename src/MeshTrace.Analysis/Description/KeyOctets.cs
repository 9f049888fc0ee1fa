using System.Diagnostics.CodeAnalysis;
using System.Security.Cryptography;

namespace MeshTrace.Analysis.Description;

/// <summary>The 16 octets of a NetKey, an AppKey or a device key. Nothing that shows this value shows an octet of it.</summary>
public sealed class KeyOctets : IEquatable<KeyOctets>
{
    /// <summary>Every mesh key has 128 bits (Mesh Protocol 1.1 §3.9.6).</summary>
    public const int Length = 16;

    private readonly byte[] _octets;

    /// <exception cref="ArgumentException">Not 16 octets.</exception>
    public KeyOctets(ReadOnlySpan<byte> octets)
    {
        if (octets.Length != Length)
            throw new ArgumentException($"A key has {Length} octets.", nameof(octets));
        _octets = octets.ToArray();
    }

    /// <summary>The key itself, in wire order.</summary>
    public ReadOnlySpan<byte> Octets => _octets;

    /// <summary>True for 16 octets of zero: some exporters write it where there is no key.</summary>
    public bool IsAllZero => !_octets.AsSpan().ContainsAnyExcept((byte)0);

    /// <summary>Reads exactly 32 hex digits of any case.</summary>
    public static bool TryParse(ReadOnlySpan<char> hex, [NotNullWhen(true)] out KeyOctets? key)
    {
        key = null;
        Span<byte> octets = stackalloc byte[Length];
        if (hex.Length != 2 * Length || !HexText.TryRead(hex, octets))
            return false;
        key = new KeyOctets(octets);
        octets.Clear();
        return true;
    }

    public bool Equals(KeyOctets? other) => other is not null && CryptographicOperations.FixedTimeEquals(_octets, other._octets);
    public override bool Equals(object? obj) => Equals(obj as KeyOctets);

    public override int GetHashCode()
    {
        HashCode hash = default;
        hash.AddBytes(_octets);
        return hash.ToHashCode();
    }

    /// <summary>Always the same words, whatever the key is.</summary>
    public override string ToString() => "(key, not shown)";
}
