namespace MeshTrace.Analysis.History;

/// <summary>Which frames are copies of which flood: two flat arrays, filled once the floods are known.</summary>
internal sealed class FloodCopies
{
    private int[] _starts = [0];
    private FloodCopy[] _copies = [];

    public ReadOnlySpan<FloodCopy> Of(int flood) =>
        flood + 1 < _starts.Length ? _copies.AsSpan(_starts[flood].._starts[flood + 1]) : [];

    public int Count => _copies.Length;

    /// <summary>To note the sender of each copy.</summary>
    public Span<FloodCopy> ToFill(int flood) => _copies.AsSpan(_starts[flood].._starts[flood + 1]);

    public void Fill(int[] starts, FloodCopy[] copies)
    {
        _starts = starts;
        _copies = copies;
    }
}
