namespace MeshTrace.Analysis.Completeness;

/// <summary>Why a receiver is taken for deaf.</summary>
public enum DeafReason : byte
{
    /// <summary>Nothing, or next to nothing, from any advertiser, while several were heard steadily before and after.</summary>
    Silence,

    /// <summary>The recorder's own counter shows packets that did not get into the file.</summary>
    RecorderLost,
}

/// <summary>A time in which a receiver heard nothing, or its recorder kept nothing.</summary>
/// <param name="Receiver">Index of the receiver.</param>
/// <param name="FromNs">Begin.</param>
/// <param name="ToNs">End.</param>
/// <param name="Reason">How it is known.</param>
/// <param name="Lost">Packets that the recorder lost, by its own count; 0 for silence.</param>
public readonly record struct DeafSpan(int Receiver, long FromNs, long ToNs, DeafReason Reason, long Lost);

/// <summary>When the receivers were deaf: what is not heard then says nothing about the network.</summary>
public sealed class DeafTimes
{
    private readonly List<(long FromNs, long ToNs)> _allDeaf;

    internal DeafTimes(IReadOnlyList<DeafSpan> spans, int receivers)
    {
        Spans = spans;
        _allDeaf = WhereAllAreDeaf(spans, receivers);
    }

    internal static DeafTimes None { get; } = new([], 0);

    /// <summary>By receiver, then in order of time.</summary>
    public IReadOnlyList<DeafSpan> Spans { get; }

    /// <summary>True if no receiver listened for some part of the time.</summary>
    public bool IsDeaf(long fromNs, long toNs) => FirstEndingAfter(fromNs) is var at && at < _allDeaf.Count && _allDeaf[at].FromNs < Math.Max(toNs, fromNs + 1);

    /// <summary>Share of the time, 0 to 1, in which no receiver listened.</summary>
    public double DeafShareOf(long fromNs, long toNs)
    {
        if (toNs <= fromNs)
            return IsDeaf(fromNs, fromNs) ? 1 : 0;
        long deaf = 0;
        for (int at = FirstEndingAfter(fromNs); at < _allDeaf.Count && _allDeaf[at].FromNs < toNs; at++)
            deaf += Math.Min(_allDeaf[at].ToNs, toNs) - Math.Max(_allDeaf[at].FromNs, fromNs);
        return deaf / (double)(toNs - fromNs);
    }

    /// <summary>Index of the first span that ends after a time; they are in order and do not overlap.</summary>
    private int FirstEndingAfter(long timeNs)
    {
        int low = 0, high = _allDeaf.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_allDeaf[middle].ToNs <= timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }

    /// <summary>Counts, over the ends of all spans in order, how many receivers are deaf; spans of one receiver may overlap.</summary>
    private static List<(long FromNs, long ToNs)> WhereAllAreDeaf(IReadOnlyList<DeafSpan> spans, int receivers)
    {
        List<(long TimeNs, int Step, int Receiver)> ends = [.. spans.Select(span => (span.FromNs, 1, span.Receiver)), .. spans.Select(span => (span.ToNs, -1, span.Receiver))];
        ends.Sort((a, b) => a.TimeNs.CompareTo(b.TimeNs));
        var depth = new Dictionary<int, int>();
        var all = new List<(long, long)>();
        int deaf = 0;
        long since = 0;
        foreach ((long timeNs, int step, int receiver) in ends)
        {
            int before = depth.GetValueOrDefault(receiver), after = depth[receiver] = before + step;
            int change = (after > 0 ? 1 : 0) - (before > 0 ? 1 : 0);
            if (change > 0 && deaf + 1 == receivers)
                since = timeNs;
            else if (change < 0 && deaf == receivers)
                all.Add((since, timeNs));
            deaf += change;
        }
        return all;
    }
}
