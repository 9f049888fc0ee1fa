using System.Numerics;

namespace MeshTrace.Synthesis.Radio;

/// <summary>
/// Repeatable random numbers: xoshiro256** seeded by SplitMix64 (both algorithms by their public descriptions). The same seed gives the
/// same numbers on every runtime and machine, which <see cref="Random"/> does not promise. Not for secrets.
/// </summary>
public sealed class Randomness
{
    private readonly ulong _seed;
    private ulong _s0, _s1, _s2, _s3;

    public Randomness(ulong seed)
    {
        _seed = seed;
        ulong state = seed;
        _s0 = SplitMix(ref state);
        _s1 = SplitMix(ref state);
        _s2 = SplitMix(ref state);
        _s3 = SplitMix(ref state);
    }

    /// <summary>An independent series for one purpose, so that a change in one place does not shift the numbers of all others.</summary>
    public Randomness Fork(string purpose) => new(Hash(_seed, Fingerprint(purpose), 0, 0));

    /// <inheritdoc cref="Fork(string)" />
    public Randomness Fork(string purpose, long number) => new(Hash(_seed, Fingerprint(purpose), (ulong)number, 1));

    /// <summary>A number that depends on nothing but its arguments.</summary>
    public static ulong Hash(ulong a, ulong b, ulong c, ulong d)
    {
        unchecked
        {
            ulong state = a;
            ulong mixed = SplitMix(ref state) ^ b;
            mixed = SplitMix(ref mixed) ^ c;
            mixed = SplitMix(ref mixed) ^ d;
            return SplitMix(ref mixed);
        }
    }

    public ulong Next64()
    {
        unchecked
        {
            ulong result = BitOperations.RotateLeft(_s1 * 5, 7) * 9;
            ulong t = _s1 << 17;
            _s2 ^= _s0;
            _s3 ^= _s1;
            _s1 ^= _s2;
            _s0 ^= _s3;
            _s2 ^= t;
            _s3 = BitOperations.RotateLeft(_s3, 45);
            return result;
        }
    }

    /// <summary>0 to <paramref name="bound"/> - 1, evenly (multiply-shift; the bias is below 2^-32 for the bounds used here).</summary>
    public long Below(long bound) => bound <= 0 ? 0 : (long)Math.BigMul(Next64(), (ulong)bound, out _);

    /// <summary><paramref name="least"/> to <paramref name="most"/>, both included.</summary>
    public long Between(long least, long most) => least + Below(most - least + 1);

    /// <summary>0 up to but not 1.</summary>
    public double Share() => (Next64() >> 11) * (1.0 / (1UL << 53));

    public bool Chance(double share) => share > 0 && Share() < share;

    public void Fill(Span<byte> octets)
    {
        for (int i = 0; i < octets.Length; i += 8)
        {
            ulong value = Next64();
            for (int j = i; j < Math.Min(i + 8, octets.Length); j++, value >>= 8)
                octets[j] = unchecked((byte)value);
        }
    }

    /// <summary>FNV-1a over the UTF-16 units: a stable number for a name.</summary>
    internal static ulong Fingerprint(string text)
    {
        unchecked
        {
            ulong hash = 0xCBF29CE484222325;
            foreach (char c in text)
                hash = (hash ^ c) * 0x100000001B3;
            return hash;
        }
    }

    private static ulong SplitMix(ref ulong state)
    {
        unchecked
        {
            ulong z = state += 0x9E3779B97F4A7C15;
            z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
            z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
            return z ^ (z >> 31);
        }
    }
}
