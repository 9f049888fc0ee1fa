namespace MeshTrace.Analysis.Completeness;

/// <summary>A share with the interval in which the true one lies in 19 of 20 cases.</summary>
/// <param name="Low">Lower end, 0 to 1.</param>
/// <param name="Share">As counted.</param>
/// <param name="High">Upper end, 0 to 1.</param>
/// <param name="Samples">What it was counted over.</param>
public readonly record struct ShareInterval(double Low, double Share, double High, long Samples)
{
    /// <summary>Normal deviate of 95 %, two-sided.</summary>
    private const double Deviate = 1.96;

    /// <summary>The score interval for a proportion (E. B. Wilson, Journal of the American Statistical Association 22, 1927): holds for few samples too.</summary>
    /// <param name="hits">0 to <paramref name="samples"/>.</param>
    /// <param name="samples">1 or more.</param>
    public static ShareInterval Of(long hits, long samples)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(samples);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(hits, samples);
        double n = samples, share = hits / n, square = Deviate * Deviate;
        double middle = (share + (square / (2 * n))) / (1 + (square / n));
        double half = Deviate * Math.Sqrt((share * (1 - share) / n) + (square / (4 * n * n))) / (1 + (square / n));
        return new ShareInterval(Math.Max(0, middle - half), share, Math.Min(1, middle + half), samples);
    }
}
