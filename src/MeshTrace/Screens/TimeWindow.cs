namespace MeshTrace.Screens;

/// <summary>A piece of time drawn over columns: where it begins, and how long a column is.</summary>
internal readonly record struct TimeWindow(long FromNs, long ToNs)
{
    /// <summary>A window never gets shorter than a millisecond.</summary>
    public const long ShortestNs = 1_000_000;

    public long LengthNs => ToNs - FromNs;

    /// <summary>Column of a time, or -1 where it lies outside.</summary>
    public int ColumnOf(long timeNs, int columns) =>
        timeNs < FromNs || timeNs > ToNs || columns <= 0 ? -1 : Math.Min(columns - 1, (int)((Int128)(timeNs - FromNs) * columns / Math.Max(1, LengthNs)));

    /// <summary>First nanosecond of a column.</summary>
    public long TimeOf(int column, int columns) => FromNs + (long)((Int128)LengthNs * column / Math.Max(1, columns));

    /// <summary>Shorter or longer by a factor, with a time kept at its place.</summary>
    public TimeWindow Zoom(double factor, long aroundNs, TimeWindow whole)
    {
        double length = Math.Clamp(LengthNs * factor, ShortestNs, Math.Max(ShortestNs, whole.LengthNs));
        double share = LengthNs == 0 ? 0.5 : Math.Clamp((double)(aroundNs - FromNs) / LengthNs, 0, 1);
        long from = aroundNs - (long)(length * share);
        return new TimeWindow(from, from + (long)length).Inside(whole);
    }

    public TimeWindow Shift(long byNs, TimeWindow whole) => new TimeWindow(FromNs + byNs, ToNs + byNs).Inside(whole);

    /// <summary>Moved so that a time is in the middle, unless it is well inside already.</summary>
    public TimeWindow Show(long timeNs, TimeWindow whole)
    {
        long margin = LengthNs / 10;
        if (timeNs >= FromNs + margin && timeNs <= ToNs - margin)
            return this;
        long from = timeNs - (LengthNs / 2);
        return new TimeWindow(from, from + LengthNs).Inside(whole);
    }

    private TimeWindow Inside(TimeWindow whole)
    {
        if (LengthNs >= whole.LengthNs)
            return whole;
        long from = Math.Clamp(FromNs, whole.FromNs, whole.ToNs - LengthNs);
        return new TimeWindow(from, from + LengthNs);
    }
}
