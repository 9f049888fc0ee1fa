namespace MeshTrace.Analysis.History;

/// <summary>Which frames are copies of which flood: two flat arrays, filled once the floods are known.</summary>
internal sealed class FloodCopies
{
    private int[] _starts = [0];
    private FloodCopy[] _copies = [];
    private HeardCopy[] _heard = [];

    public ReadOnlySpan<FloodCopy> Of(int flood) =>
        flood + 1 < _starts.Length ? _copies.AsSpan(_starts[flood].._starts[flood + 1]) : [];

    public int Count => _copies.Length;

    /// <summary>To note the sender of each copy.</summary>
    public Span<FloodCopy> ToFill(int flood) => _copies.AsSpan(_starts[flood].._starts[flood + 1]);

    /// <summary>What was heard of each copy of a flood, in the order of <see cref="Of"/>; until <see cref="ForgetHeard"/>.</summary>
    public Span<HeardCopy> HeardOf(int flood) => _heard.AsSpan(_starts[flood].._starts[flood + 1]);

    /// <param name="starts">Of each flood the place of its first copy, and behind the last one the number of all copies.</param>
    /// <param name="copies">The copies, flood by flood.</param>
    /// <param name="heard">What was heard of each of them.</param>
    public void Fill(int[] starts, FloodCopy[] copies, HeardCopy[]? heard = null)
    {
        _starts = starts;
        _copies = copies;
        _heard = heard ?? [];
    }

    /// <summary>Gives back what was kept of the frames.</summary>
    public void ForgetHeard() => _heard = [];
}
