namespace MeshTrace.Analysis.Findings;

/// <summary>How likely it is that answers which were all sent were missed as often, or in such an order, as was seen. Each includes the choice among all that might have come up instead.</summary>
internal static class SilenceChance
{
    /// <summary>A run tells by its order where it has so many presses at least (ours).</summary>
    public const int LeastByOrder = 5;

    /// <summary>And where it is less likely than this (ours: how well a node is heard changes with doors and people).</summary>
    public const double MostByOrder = 0.12;

    /// <summary>
    /// So many of the answers owed, or more, are missed when each is missed with a chance of its own: the tail of the binomial distribution at their mean, which is
    /// an upper limit wherever more are missing than that mean lets expect (W. Hoeffding, Annals of Mathematical Statistics 27, 1956).
    /// </summary>
    /// <param name="missing">0 to <paramref name="owed"/>.</param>
    /// <param name="owed">Answers that should have come.</param>
    /// <param name="missChance">Mean chance of each, 0 to 1.</param>
    public static double OfSoMany(int missing, int owed, double missChance)
    {
        if (missing <= 0 || missChance >= 1)
            return 1;
        if (missing == owed)
            return Math.Pow(missChance, owed);
        if (missChance <= 0)
            return 0;
        if (missing <= (owed * missChance) + 1)
            return 1;       // no upper limit there, and as many as expected
        double term = Math.Exp(LogChoose(owed, missing) + (missing * Math.Log(missChance)) + ((owed - missing) * Math.Log(1 - missChance)));
        double sum = 0;
        for (int count = missing; count <= owed && term > 0; count++)
        {
            sum += term;
            term *= (owed - count) / (double)(count + 1) * missChance / (1 - missChance);
        }
        return Math.Min(1, sum);
    }

    /// <summary>A run of answers missed, anywhere among those owed: it could have begun at so many places.</summary>
    /// <param name="length">Of the run, 1 to <paramref name="owed"/>.</param>
    /// <param name="owed">Answers that should have come.</param>
    /// <param name="chance">That all of the run were missed.</param>
    public static double OfRun(int length, int owed, double chance) => Math.Min(1, chance * (owed - length + 1));

    /// <summary>
    /// Those that were heard leave so long a run without one, whatever the share that is heard: of all orders in which they may lie among those owed, the share
    /// that leaves it before, between or after them (at most: each of these places counted for itself). It asks only that they are heard about equally well all the time.
    /// </summary>
    /// <param name="length">Of the run, 1 to <paramref name="owed"/>.</param>
    /// <param name="heard">Answers heard.</param>
    /// <param name="owed">Answers that should have come.</param>
    public static double OfOrder(int length, int heard, int owed) =>
        heard <= 0 ? 1 : heard > owed - length ? 0 : Math.Min(1, (heard + 1) * Math.Exp(LogChoose(owed - length, heard) - LogChoose(owed, heard)));

    private static double LogChoose(int all, int some)
    {
        double log = 0;
        for (int at = 1; at <= Math.Min(some, all - some); at++)
            log += Math.Log((all - at + 1) / (double)at);
        return log;
    }
}
