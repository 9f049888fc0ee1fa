using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Network message cache (Mesh Protocol 1.1 §3.4.6.5): the last PDUs seen, so that each is handled once. The oldest falls
/// out.</summary>
internal sealed class NetworkMessageCache(int size)
{
    private readonly Queue<(uint, ushort, uint)> _order = new(size);
    private readonly HashSet<(uint, ushort, uint)> _seen = new(size);

    /// <summary>True if it was not there; it is from now on.</summary>
    internal bool Add(uint ivIndex, MeshAddress src, uint seq)
    {
        var entry = (ivIndex, src.Value, seq);
        if (!_seen.Add(entry))
            return false;
        if (_order.Count == size)
            _seen.Remove(_order.Dequeue());
        _order.Enqueue(entry);
        return true;
    }
}
