using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Tests.Support;

/// <summary>Frames in memory as a source.</summary>
internal sealed class FrameList : IFrameSource
{
    private readonly List<(long TimeNs, byte[] Octets, int Receiver, LinkType Type)> _frames = [];
    private int _next;

    public IReadOnlyList<ReceiverDescription> Receivers { get; } = [new(0, "memory", null, LinkType.LeLinkLayerWithRadioHeader)];
    public CaptureDamage? Damage => null;
    public long Position => _next;
    public long? Length => _frames.Count;

    public void Add(long timeNs, byte[] octets, LinkType type) => _frames.Add((timeNs, octets, 0, type));

    public bool TryReadNext(out CapturedFrame frame)
    {
        if (_next == _frames.Count)
        {
            frame = default;
            return false;
        }
        (long timeNs, byte[] octets, int receiver, LinkType type) = _frames[_next];
        frame = new CapturedFrame
        {
            Receiver = receiver, LinkType = type, TimeNs = timeNs, OriginalLength = octets.Length, FileOffset = _next, Octets = octets,
        };
        _next++;
        return true;
    }

    public void Rewind() => _next = 0;

    public void Dispose()
    {
    }
}
