using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Connections;
using MeshTrace.Synthesis.Receivers;

namespace MeshTrace.Synthesis.Nodes.Proxy;

/// <summary>The log of a phone's own host: an interface of link type 201 in the capture. It has what the phone's controller tells and carries, and nothing of the air.</summary>
internal sealed class HostLog(int index, long startNs, IFrameSink sink)
{
    private const ushort Handle = 0x0040, IntervalUnits = 24;     // 30 ms
    private const int RssiDbm = -58;

    /// <summary>Link type number of "H4 with direction" (public link-type registry).</summary>
    internal static readonly LinkType Type = LinkType.HciH4WithDirection;

    /// <summary>BTSnoop's HCI without indicator: a bare packet.</summary>
    private static readonly LinkType Bare = new(0x10000 + 1001);

    private readonly byte[] _packet = new byte[HciReportWriter.LongestFrame];

    internal long Frames { get; private set; }

    /// <summary>The phone found a proxy.</summary>
    internal void Found(long us, ulong peer, bool isRandom, ReadOnlySpan<byte> serviceData)
    {
        Span<byte> advData = stackalloc byte[31];
        int length = AdStructureWriter.Write(advData, AdType.ServiceData16, serviceData);
        Event(us, HciReportWriter.Write(_packet, Bare, AdvertisingPduType.AdvInd, peer, isRandom, advData[..length], RssiDbm));
    }

    internal void Connected(long us, ulong peer, bool isRandom) => Event(us, HciLeEvent.WriteConnected(_packet, Handle, isCentral: true, peer, isRandom, IntervalUnits));

    internal void Disconnected(long us, byte reason) => Event(us, HciLeEvent.WriteDisconnected(_packet, Handle, reason));

    /// <summary>A PDU of the Attribute Protocol.</summary>
    internal void Carried(long us, bool fromPhone, byte[] attPdu)
    {
        foreach (byte[] packet in HostLogWriter.AclPackets(Handle, fromPhone, attPdu))
            Put(us, fromPhone, isEvent: false, packet);
    }

    private void Event(long us, int length) => Put(us, sent: false, isEvent: true, _packet.AsSpan(0, length));

    private void Put(long us, bool sent, bool isEvent, ReadOnlySpan<byte> packet)
    {
        Frames++;
        sink.Write(index, startNs + (us * 1000), HostLogWriter.WithDirection(sent, isEvent, packet), crcError: false);
    }
}
