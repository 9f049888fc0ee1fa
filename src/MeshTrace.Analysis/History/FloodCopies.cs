namespace MeshTrace.Analysis.History;

/// <summary>Which frames are copies of which flood: two flat arrays, filled once the floods are known.</summary>
internal sealed class FloodCopies
{
    private int[] _starts = [0];
    private FloodCopy[] _copies = [];

    public ArraySegment<FloodCopy> Of(int flood) =>
        flood + 1 < _starts.Length ? new ArraySegment<FloodCopy>(_copies, _starts[flood], _starts[flood + 1] - _starts[flood]) : ArraySegment<FloodCopy>.Empty;

    public void Fill(int[] starts, FloodCopy[] copies)
    {
        _starts = starts;
        _copies = copies;
    }
}
