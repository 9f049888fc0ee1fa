using System.Net;
using CsCheck;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Udp;

/// <summary>One frame out of its datagram.</summary>
public class UdpUnwrapperTests
{
    private const int Port = 17_754;
    private static readonly UdpEncapsulation Encapsulation = new(Port, LinkType.LeLinkLayerWithRadioHeader);
    private static readonly byte[] Content = [0x25, 0xC4, 0, 0, 1, 2, 3];

    public static TheoryData<string, int, byte[]> Carriers { get; } = new()
    {
        { "Ethernet", 1, Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content))) },
        { "one VLAN tag", 1, Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content)), 17) },
        { "two VLAN tags", 1, Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content)), 17, 18) },
        { "IP alone", 101, Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content)) },
        { "IPv4 alone", 228, Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content)) },
        { "cooked", 113, Datagram.Cooked(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content))) },
        { "cooked, version 2", 276, Datagram.CookedTwo(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content))) },
    };

    [Theory, MemberData(nameof(Carriers))]
    public void EveryCarrier_GivesWhatTheDatagramHolds_WithoutPadding(string name, int linkType, byte[] carrier)
    {
        UdpFate fate = Unwrap(linkType, carrier, carrier.Length, out byte[] octets, out int original, out IPAddress? sender);
        Assert.True(fate == UdpFate.Datagram, $"{name}: {fate}");
        Assert.Equal(Content, octets);
        Assert.Equal((Content.Length, IPAddress.Parse("192.0.2.1")), (original, sender));
    }

    [Theory, InlineData(1), InlineData(101), InlineData(229)]
    public void IPv6_IsTakenOff(int linkType)
    {
        byte[] ip = Datagram.IPv6("2001:db8::7", Datagram.Udp(Port, Content)), carrier = linkType == 1 ? Datagram.Ethernet(ip) : ip;
        Assert.Equal(UdpFate.Datagram, Unwrap(linkType, carrier, carrier.Length, out byte[] octets, out _, out IPAddress? sender));
        Assert.Equal(Content, octets);
        Assert.Equal(IPAddress.Parse("2001:db8::7"), sender);
    }

    public static TheoryData<string, byte[], UdpFate> Others { get; } = new()
    {
        { "another port", Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port + 1, Content))), UdpFate.OtherPort },
        { "the name service, which is decoded as such", Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(53, Content))), UdpFate.OtherPort },
        { "first fragment: more fragments, offset 0", Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content), 0x2000)), UdpFate.Fragment },
        { "last fragment: offset 185", Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content), 185)), UdpFate.Fragment },
        { "IPv6, first fragment", Datagram.Ethernet(Datagram.IPv6("2001:db8::7", Datagram.Udp(Port, Content), 1)), UdpFate.Fragment },
        { "IPv6, last fragment", Datagram.Ethernet(Datagram.IPv6("2001:db8::7", Datagram.Udp(Port, Content), 185 << 3)), UdpFate.Fragment },
        { "TCP", Datagram.Ethernet(Datagram.IPv4("192.0.2.1", new byte[20], protocol: 6)), UdpFate.NotUdp },
        { "an error report with the datagram in it", Datagram.Ethernet(Datagram.IPv4("192.0.2.1", [3, 3, 0, 0, 0, 0, 0, 0, .. Datagram.IPv4("192.0.2.2", Datagram.Udp(Port, Content))], protocol: 1)), UdpFate.NotUdp },
        { "address resolution", [2, 0, 0, 0, 0, 1, 2, 0, 0, 0, 0, 2, 0x08, 0x06, .. new byte[46]], UdpFate.NotUdp },
        { "UDP length below its header's", Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, Content, 7))), UdpFate.Malformed },
        { "UDP length beyond the packet", Datagram.IPv4Ethernet(Datagram.Udp(Port, Content, 9_000)), UdpFate.Malformed },
        { "nothing at all", [], UdpFate.Malformed },
    };

    [Theory, MemberData(nameof(Others))]
    public void AnythingElse_IsNamed(string what, byte[] carrier, UdpFate expected)
    {
        UdpFate fate = Unwrap(1, carrier, carrier.Length, out byte[] octets, out _, out _);
        Assert.True(fate == expected, $"{what}: {fate}");
        Assert.Empty(octets);
    }

    /// <summary>The recorder cut the frame at each possible place: never more octets than were there, and never a whole datagram that is none.</summary>
    [Fact]
    public void CutFrames_GiveTheBeginningOfTheDatagram_MarkedAsCut()
    {
        byte[] content = [.. Enumerable.Range(0, 40).Select(i => (byte)i)], whole = Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, content)));
        const int headers = 14 + 20 + 8;
        for (int kept = 0; kept < whole.Length; kept++)
        {
            UdpFate fate = Unwrap(1, whole[..kept], whole.Length, out byte[] octets, out int original, out _);
            if (kept < headers)
                Assert.True(fate is UdpFate.CutInHeaders or UdpFate.NotUdp, $"{kept} octets: {fate}");
            else
            {
                Assert.Equal((UdpFate.Datagram, 40), (fate, original));
                Assert.Equal(content[..(kept - headers)], octets);
            }
        }
    }

    [Fact]
    public void RandomOctets_NeverThrow() => Gen.Select(Gen.Byte.Array[0, 120], Gen.Int[0, 5].Select(at => new[] { 1, 101, 113, 228, 229, 276 }[at]), Gen.Int[0, 200])
        .Sample((octets, linkType, more) => { Unwrap(linkType, octets, octets.Length + more, out _, out _, out _); }, iter: 20_000);

    [Fact]
    public void DamagedHeaders_NeverThrow() => Gen.Select(Gen.Int[0, Carriers.Count - 1], Gen.Int[0, 60], Gen.Byte).Sample((which, at, value) =>
    {
        object[] row = Carriers.ElementAt(which);
        byte[] octets = [.. (byte[])row[2]];
        octets[Math.Min(at, octets.Length - 1)] = value;
        Unwrap((int)row[1], octets, octets.Length, out byte[] carried, out _, out _);
        Assert.True(carried.Length <= octets.Length);
    }, iter: 20_000);

    private static UdpFate Unwrap(int linkType, byte[] octets, int originalLength, out byte[] carried, out int original, out IPAddress? sender)
    {
        var frame = new CapturedFrame { Receiver = 0, LinkType = new LinkType(linkType), TimeNs = 5, OriginalLength = originalLength, FileOffset = 24, Octets = octets };
        UdpFate fate = UdpUnwrapper.Unwrap(in frame, Encapsulation, out CapturedFrame found, out sender, out _);
        carried = found.Octets.ToArray();
        original = found.OriginalLength;
        if (fate == UdpFate.Datagram)
            Assert.Equal((256, 5L, 24L), (found.LinkType.Number, found.TimeNs, found.FileOffset));
        return fate;
    }
}
