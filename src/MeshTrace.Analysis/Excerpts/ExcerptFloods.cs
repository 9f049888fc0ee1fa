using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Excerpts;

/// <summary>Takes floods and messages into an excerpt, with all their copies: counts and hops stay true.</summary>
internal sealed class ExcerptFloods(CaptureHistory history, ExcerptSelection selection)
{
    private readonly HashSet<int> _taken = [];

    /// <summary>True if a frame was not part of the excerpt before.</summary>
    public bool Take(int flood, ExcerptReason reason)
    {
        if (!_taken.Add(flood))
            return false;
        bool more = false;
        foreach (FloodCopy copy in history.CopiesOf(flood))
            more |= selection.Take(copy.Frame, reason);
        return more;
    }

    public bool TakeMessage(int message, ExcerptReason reason)
    {
        bool more = false;
        foreach (int flood in history.FloodsOf(message))
            more |= Take(flood, reason);
        return more;
    }
}
