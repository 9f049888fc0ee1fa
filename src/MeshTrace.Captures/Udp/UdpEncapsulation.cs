using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Udp;

/// <summary>How receivers send what they hear over an IP network: one frame in each UDP datagram to one port.</summary>
/// <param name="Port">Destination port, 1 to 65535.</param>
/// <param name="LinkType">What the octets of a datagram are.</param>
public sealed record UdpEncapsulation(int Port, LinkType LinkType)
{
    /// <summary>Link types that a datagram may hold: those whose octets say everything themselves.</summary>
    public static IReadOnlyList<LinkType> LinkTypes { get; } =
    [
        LinkType.HciH4, LinkType.HciH4WithDirection, LinkType.LeLinkLayer, LinkType.HostMonitor, LinkType.LeLinkLayerWithRadioHeader,
        LinkType.LeLinkLayerWithBoardHeader,
    ];

    /// <summary>True for the link types of an IP network in which datagrams are looked for: 1 Ethernet; 101, 228 and 229 IP alone; 113 and 276 Linux
    /// "cooked".</summary>
    public static bool IsCarrier(LinkType linkType) => linkType.Number is 1 or 101 or 113 or 228 or 229 or 276;
}
