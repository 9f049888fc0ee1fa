namespace MeshTrace.Analysis.History;

public sealed partial class CaptureHistory
{
    internal OctetArena Payloads { get; } = new();
    internal Dictionary<int, List<int>> MessageFloods { get; } = [];
    internal FloodCopies Copies { get; } = new();

    private int ContentFlood(int content) => Frames.Count < content ? content : -1;
}
