namespace MeshTrace.Synthesis.Radio;

/// <summary>Something that happens at one moment of the simulated clock.</summary>
internal abstract class Occurrence
{
    internal abstract void Happen();
}

/// <summary>A call that may be taken back before its time.</summary>
internal sealed class Alarm(Action call) : Occurrence
{
    internal bool Cancelled { get; set; }

    internal override void Happen()
    {
        if (!Cancelled)
            call();
    }
}

/// <summary>
/// The simulated clock and what is due, in µs since the start of the scenario. Occurrences of the same microsecond happen in the order in
/// which they were entered, so a run depends on nothing but the scenario.
/// </summary>
internal sealed class Timeline
{
    private (long TimeUs, long Order, Occurrence What)[] _heap = new (long, long, Occurrence)[256];
    private int _count;
    private long _order;

    internal long NowUs { get; private set; }

    internal void At(long timeUs, Occurrence what)
    {
        if (_count == _heap.Length)
            Array.Resize(ref _heap, _count * 2);
        int hole = _count++;
        var entry = (TimeUs: Math.Max(timeUs, NowUs), Order: _order++, What: what);
        while (hole > 0)
        {
            int parent = (hole - 1) / 2;
            if (!Before(entry, _heap[parent]))
                break;
            _heap[hole] = _heap[parent];
            hole = parent;
        }
        _heap[hole] = entry;
    }

    internal Alarm At(long timeUs, Action call)
    {
        var alarm = new Alarm(call);
        At(timeUs, alarm);
        return alarm;
    }

    internal Alarm After(long delayUs, Action call) => At(NowUs + delayUs, call);

    /// <summary>Lets everything up to and including <paramref name="endUs"/> happen.</summary>
    internal void RunUntil(long endUs)
    {
        while (_count > 0 && _heap[0].TimeUs <= endUs)
        {
            var (timeUs, _, what) = _heap[0];
            RemoveFirst();
            NowUs = timeUs;
            what.Happen();
        }
        NowUs = Math.Max(NowUs, endUs);
    }

    private void RemoveFirst()
    {
        var last = _heap[--_count];
        _heap[_count] = default;
        if (_count == 0)
            return;
        int hole = 0;
        for (int child = 1; child < _count; child = (2 * hole) + 1)
        {
            if (child + 1 < _count && Before(_heap[child + 1], _heap[child]))
                child++;
            if (!Before(_heap[child], last))
                break;
            _heap[hole] = _heap[child];
            hole = child;
        }
        _heap[hole] = last;
    }

    private static bool Before(in (long TimeUs, long Order, Occurrence What) a, in (long TimeUs, long Order, Occurrence What) b) =>
        a.TimeUs < b.TimeUs || (a.TimeUs == b.TimeUs && a.Order < b.Order);
}
