using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Completeness;

/// <summary>Floods that used the same sequence of numbers, in order of time. Their times and numbers stand beside them: a search does not go over the table of floods.</summary>
internal sealed class NumberLine
{
    private readonly List<int> _rows;
    private readonly long[] _times;

    /// <summary>IV index in the upper 32 bits, SEQ in the lower ones.</summary>
    private readonly ulong[] _numbers;

    /// <param name="history">The capture.</param>
    /// <param name="rows">Rows of floods that have a time, in the order heard: they are put into the order of their times.</param>
    public NumberLine(CaptureHistory history, List<int> rows)
    {
        (_rows, _times, _numbers) = (rows, new long[rows.Count], new ulong[rows.Count]);
        if (NoteTimes(history))
            return;
        rows.Sort((left, right) => history.Floods[left].FirstTimeNs.CompareTo(history.Floods[right].FirstTimeNs));
        NoteTimes(history);
    }

    /// <summary>Rows of the floods.</summary>
    public IReadOnlyList<int> Rows => _rows;

    /// <summary>When each was first heard.</summary>
    public ReadOnlySpan<long> Times => _times;

    /// <summary>Place of the first flood at or behind a time.</summary>
    /// <param name="timeNs">The time.</param>
    /// <param name="near">A place near which it may be.</param>
    public int FirstFrom(long timeNs, int near) => TimesInOrder.FirstFrom(_times, timeNs, near);

    /// <summary>
    /// Numbers that were used and not heard between the last flood before a time and the first one behind it; null where it cannot be told: one of the two
    /// is missing, the IV index changed, the number went back, or it jumped as after a power cut.
    /// </summary>
    public int? Unheard(long fromNs, long toNs)
    {
        int near = 0;
        return Unheard(fromNs, toNs, ref near);
    }

    /// <summary>The same for searches that go on in time.</summary>
    /// <param name="fromNs">Begin of the time.</param>
    /// <param name="toNs">Its end.</param>
    /// <param name="near">Where the search before ended, 0 for the first; where this one does.</param>
    public int? Unheard(long fromNs, long toNs, ref int near)
    {
        int first = near = FirstFrom(fromNs, near), behind = FirstFrom(toNs + 1, first);
        if (first == 0 || behind == _rows.Count)
            return null;
        ulong earlier = _numbers[first - 1], later = _numbers[behind];
        if (earlier >> 32 != later >> 32 || later <= earlier)
            return null;
        (uint from, uint to) = (unchecked((uint)earlier), unchecked((uint)later));
        int heard = 0;
        for (int at = first; at < behind; at++)
            heard += unchecked((uint)_numbers[at]) > from && unchecked((uint)_numbers[at]) < to ? 1 : 0;
        int unheard = Math.Max(0, (int)(to - from - 1) - heard);
        return unheard > HeardShares.LongestSkip ? null : unheard;
    }

    /// <returns>True if each is later than the one before: then they are in order.</returns>
    private bool NoteTimes(CaptureHistory history)
    {
        bool rises = true;
        for (int at = 0; at < _times.Length; at++)
        {
            ref FloodRow flood = ref history.Floods[_rows[at]];
            (_times[at], _numbers[at]) = (flood.FirstTimeNs, ((ulong)flood.IvIndex << 32) | flood.Seq);
            rises &= at == 0 || _times[at] > _times[at - 1];
        }
        return rises;
    }
}
