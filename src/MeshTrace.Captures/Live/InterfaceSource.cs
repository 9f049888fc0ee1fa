using MeshTrace.Protocol.Link;
using SharpPcap;
using SharpPcap.LibPcap;

namespace MeshTrace.Captures.Live;

/// <summary>What comes in at an open interface, until it is asked to stop or the interface fails.</summary>
/// <param name="device">Open; closed with this.</param>
/// <param name="stop">Ends it, within the interface's reading time.</param>
internal sealed class InterfaceSource(LibPcapLiveDevice device, CancellationToken stop) : IFrameSource
{
    /// <summary>Between two looks at what was lost.</summary>
    private const long BetweenCountsMs = 500;
    private const int MicrosecondsExponent = 6;
    private const decimal NsPerSecond = 1_000_000_000;

    private readonly ReceiverDescription _receiver = new(0, device.Name, device.Name, new LinkType((int)device.LinkType)) { TimeResolutionExponent = MicrosecondsExponent };
    private long _octets, _lost, _nextCount;

    public IReadOnlyList<ReceiverDescription> Receivers => [_receiver];
    public CaptureDamage? Damage { get; private set; }
    public long Position => _octets;
    public long? Length => null;

    /// <summary>Frames that the system lost, as it tells.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    public bool TryReadNext(out CapturedFrame frame)
    {
        frame = default;
        while (!stop.IsCancellationRequested && Damage is null)
        {
            if (Environment.TickCount64 >= _nextCount)
                Count();
            GetPacketStatus status = device.GetNextPacket(out PacketCapture packet);
            if (status == GetPacketStatus.PacketRead)
            {
                frame = Frame(in packet);
                return true;
            }
            if (status != GetPacketStatus.ReadTimeout)
                Damage = new CaptureDamage(device.Name, _octets, $"the interface gives no more: {device.LastError}");
        }
        Count();
        return false;
    }

    public void Dispose() => device.Close();

    private CapturedFrame Frame(scoped in PacketCapture packet)
    {
        var header = (PcapHeader)packet.Header;
        byte[] octets = packet.Data.ToArray();      // the library's span does not outlive the call
        long offset = _octets;
        _octets += octets.Length;
        return new CapturedFrame
        {
            Receiver = 0, LinkType = _receiver.LinkType, TimeNs = (long)(packet.Header.Timeval.Value * NsPerSecond),
            OriginalLength = (int)Math.Max(header.PacketLength, (uint)octets.Length), FileOffset = offset, Octets = octets,
        };
    }

    private void Count()
    {
        _nextCount = Environment.TickCount64 + BetweenCountsMs;
        try
        {
            if (device.Statistics is not { } counts)
                return;
            long lost = (long)counts.DroppedPackets + counts.InterfaceDroppedPackets;
            Interlocked.Exchange(ref _lost, lost);
            _receiver.ReportedDropped = lost;
        }
        catch (PcapException)
        {
            // an interface that does not count
        }
    }
}
