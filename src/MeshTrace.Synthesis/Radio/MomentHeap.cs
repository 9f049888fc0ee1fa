namespace MeshTrace.Synthesis.Radio;

/// <summary>
/// A queue by time. Items of the same time come out in the order in which they went in, which the framework's priority queue does not
/// promise.
/// </summary>
internal sealed class MomentHeap<T>
{
    private (long Time, long Order, T Item)[] _heap = new (long, long, T)[256];
    private long _order;

    internal int Count { get; private set; }

    /// <summary>Time of the first item; there must be one.</summary>
    internal long FirstTime => _heap[0].Time;

    internal void Add(long time, T item)
    {
        if (Count == _heap.Length)
            Array.Resize(ref _heap, Count * 2);
        int hole = Count++;
        var entry = (Time: time, Order: _order++, Item: item);
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

    /// <summary>Takes the first item; there must be one.</summary>
    internal T TakeFirst()
    {
        T first = _heap[0].Item;
        var last = _heap[--Count];
        _heap[Count] = default;
        if (Count == 0)
            return first;
        int hole = 0;
        for (int child = 1; child < Count; child = (2 * hole) + 1)
        {
            if (child + 1 < Count && Before(_heap[child + 1], _heap[child]))
                child++;
            if (!Before(_heap[child], last))
                break;
            _heap[hole] = _heap[child];
            hole = child;
        }
        _heap[hole] = last;
        return first;
    }

    private static bool Before(in (long Time, long Order, T Item) a, in (long Time, long Order, T Item) b) =>
        a.Time < b.Time || (a.Time == b.Time && a.Order < b.Order);
}
