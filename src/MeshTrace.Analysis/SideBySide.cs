namespace MeshTrace.Analysis;

/// <summary>Two pieces of work of which neither touches what the other makes: on two cores where they may be used, else one after the other.</summary>
internal static class SideBySide
{
    /// <summary>Frames from which on it is worth waking a second thread.</summary>
    public const int FramesWorthIt = 10_000;

    public static void Run(int cores, Action one, Action other)
    {
        if (cores > 1)
        {
            Parallel.Invoke(one, other);
            return;
        }
        one();
        other();
    }
}
