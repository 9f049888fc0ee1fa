namespace MeshTrace.Analysis.Completeness;

/// <summary>Searches in times that never fall, in nanoseconds.</summary>
internal static class TimesInOrder
{
    /// <summary>Place of the first time at or behind another, or the number of times where all are before it.</summary>
    /// <param name="times">In order.</param>
    /// <param name="timeNs">What is searched.</param>
    /// <param name="near">A place near which it may be, 0 to the number of times: the nearer, the less is looked at. As that of the search before, where searches go on in time.</param>
    public static int FirstFrom(ReadOnlySpan<long> times, long timeNs, int near)
    {
        // In growing steps from there until the place is between two of them, then by halves.
        int low = 0, high = times.Length, step = 1;
        if (near < times.Length && times[near] < timeNs)
        {
            low = near + 1;
            while (low - 1 + step < times.Length && times[low - 1 + step] < timeNs)
            {
                low += step;
                step *= 2;
            }
            high = Math.Min(high, low - 1 + step);
        }
        else
        {
            high = near;
            while (high - step >= 0 && times[high - step] >= timeNs)
            {
                high -= step;
                step *= 2;
            }
            low = Math.Max(low, high - step + 1);
        }
        while (low < high)
        {
            int middle = (int)(((uint)low + (uint)high) / 2);
            if (times[middle] < timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }
}
