using System.Buffers.Binary;
using System.Net;

namespace MeshTrace.Captures.Tests.Udp;

/// <summary>Lays out packets of an IP network by hand, after RFC 768 (UDP), RFC 791 (IPv4), RFC 8200 (IPv6) and IEEE 802.1Q (tags).</summary>
internal static class Datagram
{
    private const int UdpProtocol = 17, FragmentHeader = 44;

    public static byte[] Udp(int port, byte[] content, int? claimedLength = null)
    {
        byte[] udp = new byte[8 + content.Length];
        BinaryPrimitives.WriteUInt16BigEndian(udp, 40_000);
        BinaryPrimitives.WriteUInt16BigEndian(udp.AsSpan(2), (ushort)port);
        BinaryPrimitives.WriteUInt16BigEndian(udp.AsSpan(4), (ushort)(claimedLength ?? udp.Length));
        content.CopyTo(udp, 8);
        return udp;
    }

    /// <param name="flagsAndOffset">Three flags and the fragment offset in units of 8 octets.</param>
    public static byte[] IPv4(string source, byte[] content, int flagsAndOffset = 0, int protocol = UdpProtocol)
    {
        byte[] ip = new byte[20 + content.Length];
        ip[0] = 0x45;
        BinaryPrimitives.WriteUInt16BigEndian(ip.AsSpan(2), (ushort)ip.Length);
        BinaryPrimitives.WriteUInt16BigEndian(ip.AsSpan(6), (ushort)flagsAndOffset);
        ip[8] = 64;
        ip[9] = (byte)protocol;
        IPAddress.Parse(source).GetAddressBytes().CopyTo(ip, 12);
        IPAddress.Parse("192.0.2.99").GetAddressBytes().CopyTo(ip, 16);
        content.CopyTo(ip, 20);
        return ip;
    }

    /// <param name="fragment">Fragment offset and M flag (RFC 8200 section 4.5), or null for a whole packet.</param>
    public static byte[] IPv6(string source, byte[] content, int? fragment = null)
    {
        int extension = fragment is null ? 0 : 8;
        byte[] ip = new byte[40 + extension + content.Length];
        ip[0] = 0x60;
        BinaryPrimitives.WriteUInt16BigEndian(ip.AsSpan(4), (ushort)(extension + content.Length));
        ip[6] = fragment is null ? (byte)UdpProtocol : (byte)FragmentHeader;
        ip[7] = 64;
        IPAddress.Parse(source).GetAddressBytes().CopyTo(ip, 8);
        IPAddress.Parse("2001:db8::99").GetAddressBytes().CopyTo(ip, 24);
        if (fragment is { } field)
        {
            ip[40] = UdpProtocol;
            BinaryPrimitives.WriteUInt16BigEndian(ip.AsSpan(42), (ushort)field);
        }
        content.CopyTo(ip, 40 + extension);
        return ip;
    }

    /// <summary>With tags in the order they are on the wire, padded to the 60 octets of the shortest frame.</summary>
    public static byte[] Ethernet(byte[] ip, params int[] vlans)
    {
        var frame = new List<byte> { 2, 0, 0, 0, 0, 1, 2, 0, 0, 0, 0, 2 };
        foreach (int vlan in vlans)
            frame.AddRange([0x81, 0x00, (byte)(vlan >> 8), (byte)vlan]);
        frame.AddRange(ip[0] >> 4 == 6 ? [0x86, 0xDD] : [0x08, 0x00]);
        frame.AddRange(ip);
        while (frame.Count < 60)
            frame.Add(0);
        return [.. frame];
    }

    public static byte[] IPv4Ethernet(byte[] udp) => Ethernet(IPv4("192.0.2.1", udp));

    /// <summary>Linux "cooked" header: packet type, address type, address length, address, protocol (link type 113).</summary>
    public static byte[] Cooked(byte[] ip) => [0, 0, 0, 1, 0, 6, 2, 0, 0, 0, 0, 2, 0, 0, 0x08, 0x00, .. ip];

    /// <summary>Its second version: protocol, reserved, interface, address type, packet type, address length, address (link type 276).</summary>
    public static byte[] CookedTwo(byte[] ip) => [0x08, 0x00, 0, 0, 0, 0, 0, 2, 0, 1, 0, 6, 2, 0, 0, 0, 0, 2, 0, 0, .. ip];
}
