namespace MeshTrace.Analysis.Completeness;

/// <summary>
/// The first copy of a PDU that a receiver hears is not the first that was sent: where much is missed it may be a repetition or come over relays, and what
/// answers the PDU is heard before it.
/// </summary>
internal static class FirstCopy
{
    /// <summary>The first copy heard may come so much later than the first one sent: five repetitions at 100 ms (threshold ours).</summary>
    public const long MostLateNs = 500_000_000;
}
