using System.Numerics;

namespace MeshTrace.Analysis.Repeats;

/// <summary>Durations counted in classes of 0.25 ms up to 512 ms: some kilobytes at most, however many there are.</summary>
public sealed class DurationHistogram
{
    /// <summary>Width of a class.</summary>
    public const long ClassNs = 250_000;
    private const int Classes = 2048;

    private const int FirstClasses = 128;       // most durations are short: there is one of these a node and role

    private int[] _counts = [];

    /// <summary>Durations counted, those beyond the last class too.</summary>
    public int Count { get; private set; }

    /// <summary>Durations of 512 ms and more: they count for the quantiles, without a value of their own.</summary>
    public int Beyond { get; private set; }

    internal void Add(long durationNs)
    {
        Count++;
        long at = Math.Max(durationNs / ClassNs, 0);
        if (at >= Classes)
        {
            Beyond++;
            return;
        }
        if (at >= _counts.Length)
            Array.Resize(ref _counts, Math.Max(FirstClasses, (int)BitOperations.RoundUpToPowerOf2((uint)at + 1)));
        _counts[at]++;
    }

    /// <summary>How many durations are at least <paramref name="fromNs"/> and below <paramref name="untilNs"/>, to the width of a class.</summary>
    public int CountWithin(long fromNs, long untilNs)
    {
        int from = (int)Math.Clamp(fromNs / ClassNs, 0, _counts.Length), until = (int)Math.Clamp(untilNs / ClassNs, from, _counts.Length), count = 0;
        foreach (int one in _counts.AsSpan(from..until))
            count += one;
        return count;
    }

    /// <summary>The duration in ms below which a share of them lies, or null where there is none or it lies beyond the last class.</summary>
    /// <param name="share">0 to 1: 0.5 gives the median.</param>
    public double? QuantileMs(double share)
    {
        double wanted = share * Count;
        int before = 0;
        for (int at = 0; at < _counts.Length; at++)
        {
            int here = _counts[at];
            if (here > 0 && before + here >= wanted)
                return (at + Math.Clamp((wanted - before) / here, 0, 1)) * (ClassNs / 1e6);
            before += here;
        }
        return null;
    }

    public double? MedianMs => QuantileMs(0.5);

    /// <summary>Median, and the middle half around it.</summary>
    public DurationSpread? Spread =>
        QuantileMs(0.25) is { } low && MedianMs is { } median && QuantileMs(0.75) is { } high ? new DurationSpread(Count, low, median, high) : null;
}

/// <summary>Where the middle half of some durations lies, in ms.</summary>
/// <param name="Samples">How many durations there are.</param>
/// <param name="LowMs">A quarter is below.</param>
/// <param name="MedianMs">Half is below.</param>
/// <param name="HighMs">A quarter is above.</param>
public readonly record struct DurationSpread(int Samples, double LowMs, double MedianMs, double HighMs);
