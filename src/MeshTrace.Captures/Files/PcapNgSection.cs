using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>A section of a pcapng file: its byte order and the interfaces described in it so far.</summary>
internal sealed class PcapNgSection(long offset, bool bigEndian)
{
    private PcapNgInterface[] _interfaces = [];

    /// <summary>Where its section header block begins.</summary>
    public long Offset { get; } = offset;

    public bool BigEndian { get; } = bigEndian;

    public int Count { get; private set; }

    public PcapNgInterface this[int id] => _interfaces[id];

    public void Add(PcapNgInterface described)
    {
        if (Count == _interfaces.Length)
            Array.Resize(ref _interfaces, Math.Max(4, Count * 2));
        _interfaces[Count++] = described;
    }
}

/// <summary>An interface description of a pcapng section.</summary>
internal sealed class PcapNgInterface(ReceiverDescription receiver, uint snapLen, TimeScale time)
{
    private readonly TimeScale _time = time;
    private long _dropsBetween;

    public int Receiver { get; } = receiver.Index;

    public LinkType LinkType { get; } = receiver.LinkType;

    /// <summary>Longest captured length, 0 = no limit.</summary>
    public uint SnapLen { get; } = snapLen;

    /// <inheritdoc cref="TimeScale.TryToNs"/>
    public bool TryToNs(ulong ticks, out long timeNs) => _time.TryToNs(ticks, out timeNs);

    /// <summary>Frames lost between two packets (epb_dropcount, and the drops field of the obsolete packet block).</summary>
    public void AddDrops(ulong count)
    {
        _dropsBetween = (long)Math.Min((ulong)_dropsBetween + Math.Min(count, long.MaxValue), long.MaxValue);
        Report(_dropsBetween);
    }

    /// <summary>Frames lost since the capture began (isb_ifdrop).</summary>
    public void SetDrops(ulong total) => Report((long)Math.Min(total, long.MaxValue));

    /// <summary>Both ways of telling count the same frames, so the larger number stands.</summary>
    private void Report(long drops) => receiver.ReportedDropped = Math.Max(receiver.ReportedDropped ?? 0, drops);
}
