namespace MeshTrace.Analysis.Excerpts;

/// <summary>Which frames of a capture make an excerpt, and why: one octet a frame.</summary>
public sealed class ExcerptSelection
{
    private readonly ExcerptReason[] _reasons;
    private readonly int[] _counts = new int[Enum.GetValues<ExcerptReason>().Length];

    internal ExcerptSelection(int frames) => _reasons = new ExcerptReason[frames];

    /// <summary>Frames taken.</summary>
    public int Count { get; private set; }

    /// <summary>Last frame taken, or -1: nothing behind it needs to be read.</summary>
    public int LastFrame { get; private set; } = -1;

    /// <summary>Frames of the capture.</summary>
    public int Of => _reasons.Length;

    /// <summary>Rows of the presses whose verdict the excerpt has to keep.</summary>
    public IReadOnlyList<int> Presses { get; internal set; } = [];

    /// <summary>Why a frame is part of it; <see cref="ExcerptReason.None"/> if it is not.</summary>
    public ExcerptReason this[int frame] => _reasons[frame];

    /// <summary>Frames taken for a reason.</summary>
    public int CountOf(ExcerptReason reason) => _counts[(int)reason];

    /// <summary>Takes a frame, unless it was taken already.</summary>
    internal bool Take(int frame, ExcerptReason reason)
    {
        if (_reasons[frame] != ExcerptReason.None)
            return false;
        _reasons[frame] = reason;
        _counts[(int)reason]++;
        Count++;
        LastFrame = Math.Max(LastFrame, frame);
        return true;
    }
}
