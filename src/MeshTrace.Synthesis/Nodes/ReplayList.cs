using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Nodes;

internal enum ReplayVerdict : byte
{
    Fresh,

    /// <summary>Not above the last (IV index, SEQ) of its source.</summary>
    Replay,

    /// <summary>The list has no room for another source.</summary>
    Full,
}

/// <summary>Replay protection list (Mesh Protocol 1.1 §3.8.8): the highest (IV index, SEQ) accepted from each source.</summary>
internal sealed class ReplayList(int size)
{
    private readonly Dictionary<ushort, (uint IvIndex, uint Seq)> _last = [];

    internal ReplayVerdict Check(MeshAddress src, uint ivIndex, uint seq)
    {
        if (!_last.TryGetValue(src.Value, out var last))
            return _last.Count < size ? ReplayVerdict.Fresh : ReplayVerdict.Full;
        return ivIndex > last.IvIndex || (ivIndex == last.IvIndex && seq > last.Seq) ? ReplayVerdict.Fresh : ReplayVerdict.Replay;
    }

    internal void Accept(MeshAddress src, uint ivIndex, uint seq) => _last[src.Value] = (ivIndex, seq);
}
