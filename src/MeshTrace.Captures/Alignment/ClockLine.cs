namespace MeshTrace.Captures.Alignment;

/// <summary>How far a clock is ahead of the reference: a straight line over its own time.</summary>
/// <param name="AtNs">A time of that clock.</param>
/// <param name="AheadNs">How far it is ahead then.</param>
/// <param name="Slope">How much further it gets for each nanosecond of its own.</param>
internal readonly record struct ClockLine(long AtNs, long AheadNs, double Slope)
{
    /// <summary>As <see cref="AheadNs"/>, at another time of that clock.</summary>
    public long AheadAt(long timeNs) => AheadNs + (long)Math.Round(Slope * (timeNs - AtNs));

    public long ToReference(long timeNs) => timeNs - AheadAt(timeNs);
}

/// <summary>What came of comparing a clock with others.</summary>
/// <param name="Line">The line, or null where none fits.</param>
/// <param name="Shared">Transmissions that both may have heard: equal octets.</param>
/// <param name="Pairs">Hearings that fit.</param>
/// <param name="MedianNs">Half of them are within this.</param>
/// <param name="LargeNs">95 % of them are within this.</param>
/// <param name="Says">Why none fits, without final stop.</param>
internal readonly record struct ClockFitResult(ClockLine? Line, int Shared, int Pairs, long MedianNs, long LargeNs, string? Says);
