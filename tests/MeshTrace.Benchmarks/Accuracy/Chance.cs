namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>Chance that is the same on every machine and with every library: SplitMix64 ("Fast splittable pseudorandom number generators", OOPSLA 2014).</summary>
internal sealed class Chance(ulong seed)
{
    private ulong _state = seed;

    public ulong Next()
    {
        ulong z = _state = unchecked(_state + 0x9E3779B97F4A7C15);
        z = unchecked((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9);
        z = unchecked((z ^ (z >> 27)) * 0x94D049BB133111EB);
        return z ^ (z >> 31);
    }

    /// <summary>A whole number from <paramref name="least"/> to <paramref name="most"/>, both included.</summary>
    public int Between(int least, int most) => least + (int)(Next() % (ulong)(most - least + 1));

    /// <summary>0 up to, not including, 1.</summary>
    public double Share() => (Next() >> 11) * (1.0 / (1UL << 53));

    public bool OneIn(int cases) => Next() % (ulong)cases == 0;

    public T Of<T>(params ReadOnlySpan<T> choices) => choices[(int)(Next() % (ulong)choices.Length)];

    /// <summary>Another stream for another purpose.</summary>
    public Chance Fork(string purpose)
    {
        ulong hash = 14695981039346656037;      // FNV-1a
        foreach (char c in purpose)
            hash = unchecked((hash ^ c) * 1099511628211);
        return new Chance(_state ^ hash);
    }
}
