namespace MeshTrace.Analysis;

/// <summary>Pieces of work of which none touches what another makes: beside each other where several cores may be used, else one after the other.</summary>
internal static class SideBySide
{
    /// <summary>Frames from which on it is worth waking a second thread.</summary>
    public const int FramesWorthIt = 10_000;

    /// <param name="cores">So many pieces at the same time at most.</param>
    /// <param name="pieces">Begun in this order: the longest first leaves nobody waiting.</param>
    public static void Run(int cores, params Action[] pieces)
    {
        if (cores > 1)
        {
            Parallel.Invoke(new ParallelOptions { MaxDegreeOfParallelism = cores }, pieces);
            return;
        }
        foreach (Action piece in pieces)
            piece();
    }
}
