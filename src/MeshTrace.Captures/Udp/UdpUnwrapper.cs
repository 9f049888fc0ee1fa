using System.Net;
using MeshTrace.Protocol.Link;
using PacketDotNet;
using PacketDotNet.Utils;

namespace MeshTrace.Captures.Udp;

/// <summary>Takes one frame out of its UDP datagram: Ethernet, VLAN tags, IPv4 or IPv6, UDP.</summary>
public static class UdpUnwrapper
{
    private const int UdpHeaderLength = 8;

    /// <summary>Looks into a frame of an IP network.</summary>
    /// <param name="carrier">A frame of a link type that <see cref="UdpEncapsulation.IsCarrier"/> names.</param>
    /// <param name="encapsulation">Port and content.</param>
    /// <param name="carried">With <see cref="UdpFate.Datagram"/> what it holds, at the time and place of the carrier and with its receiver; its octets are
    /// its own. <see cref="CapturedFrame.IsCut"/> where the capture cut the datagram.</param>
    /// <param name="sender">The sender's address, or null.</param>
    /// <param name="port">The destination port, where there is one.</param>
    public static UdpFate Unwrap(scoped in CapturedFrame carrier, UdpEncapsulation encapsulation, out CapturedFrame carried, out IPAddress? sender, out int? port)
    {
        ArgumentNullException.ThrowIfNull(encapsulation);
        carried = default;
        (sender, port) = (null, null);
        UdpFate fate;
        int length = 0;
        ByteArraySegment? octets = null;
        try
        {
            fate = Find(Packet.ParsePacket(LayersOf(carrier.LinkType), carrier.Octets.ToArray()), out UdpPacket? udp, out sender);
            if (udp != null)
            {
                port = udp.DestinationPort;
                length = udp.Length - UdpHeaderLength;
                octets = udp.HeaderSegment.NextSegment();
                // The library does not look whether the header is all there.
                bool whole = udp.HeaderSegment.Offset + UdpHeaderLength <= udp.HeaderSegment.BytesLength;
                fate = !whole || length < 0 ? UdpFate.Malformed : port != encapsulation.Port ? UdpFate.OtherPort : UdpFate.Datagram;
            }
        }
#pragma warning disable CA1031 // the library throws whatever its arrays do on headers that are cut or lie
        catch (Exception)
#pragma warning restore CA1031
        {
            fate = UdpFate.Malformed;
        }
        if (fate != UdpFate.Datagram)
            return fate == UdpFate.Malformed && carrier.IsCut ? UdpFate.CutInHeaders : fate;
        int there = Math.Clamp(octets!.Length, 0, length);      // an Ethernet frame may be padded behind the datagram
        if (there < length && !carrier.IsCut)
            return UdpFate.Malformed;
        carried = new CapturedFrame
        {
            Receiver = carrier.Receiver, LinkType = encapsulation.LinkType, TimeNs = carrier.TimeNs, FileOffset = carrier.FileOffset,
            OriginalLength = length, Octets = octets.Bytes.AsSpan(octets.Offset, there),
        };
        return UdpFate.Datagram;
    }

    private static UdpFate Find(Packet packet, out UdpPacket? udp, out IPAddress? sender)
    {
        udp = null;
        sender = null;
        // The outermost IP packet: of a tunnel or an error report, what is inside was not sent to here.
        if (packet.Extract<IPPacket>() is not { } ip)
            return UdpFate.NotUdp;
        sender = ip.SourceAddress;
        if (IsFragment(ip))
            return UdpFate.Fragment;
        udp = ip.PayloadPacket as UdpPacket;
        return ip.Protocol == ProtocolType.Udp ? UdpFate.Malformed : UdpFate.NotUdp;       // malformed where the header is not there
    }

    private static bool IsFragment(IPPacket ip) => ip switch
    {
        IPv4Packet four => (four.FragmentFlags & 1) != 0 || four.FragmentOffset != 0,   // lowest of the three flags: more fragments (RFC 791 section 3.1)
        IPv6Packet six => six.ExtensionHeaders.Any(header => header is IPv6FragmentationExtensionHeader { More: true } or IPv6FragmentationExtensionHeader { FragmentOffset: not 0 }),
        _ => false,
    };

    private static LinkLayers LayersOf(LinkType linkType) => linkType.Number switch
    {
        113 => LinkLayers.LinuxSll,
        276 => LinkLayers.LinuxSll2,
        101 or 228 or 229 => LinkLayers.Raw,
        _ => LinkLayers.Ethernet,
    };
}
