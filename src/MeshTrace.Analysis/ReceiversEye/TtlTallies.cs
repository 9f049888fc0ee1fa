namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>What came of presses that were sent with one TTL.</summary>
/// <param name="Ttl">It, or the highest of several.</param>
/// <param name="Silent">Presses that owed an answer and got none.</param>
/// <param name="Answered">Presses that were answered.</param>
/// <param name="InVain">Requests without an answer: of acknowledged presses each repetition, also those before the one that was answered.</param>
internal readonly record struct TtlTally(int Ttl, int Silent, int Answered, int InVain)
{
    public TtlTally With(in TtlTally other) => new(Ttl, Silent + other.Silent, Answered + other.Answered, InVain + other.InVain);
}

/// <summary>What came of the presses of one node at one element, by their TTL: mostly one, so that a short list is searched faster than a table.</summary>
internal sealed class TtlTallies
{
    private TtlTally[] _counts = new TtlTally[1];
    private int _count;

    public void Add(in TtlTally one)
    {
        foreach (ref TtlTally before in _counts.AsSpan(0, _count))
        {
            if (before.Ttl != one.Ttl)
                continue;
            before = before.With(in one);
            return;
        }
        if (_count == _counts.Length)
            Array.Resize(ref _counts, _count * 2);
        _counts[_count++] = one;
    }

    /// <summary>All of those sent with at most this TTL.</summary>
    public TtlTally AtMost(int ttl)
    {
        var all = new TtlTally(ttl, 0, 0, 0);
        foreach (ref readonly TtlTally counted in _counts.AsSpan(0, _count))
            if (counted.Ttl <= ttl)
                all = all.With(in counted);
        return all;
    }
}
