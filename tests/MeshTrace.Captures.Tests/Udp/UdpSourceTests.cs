using MeshTrace.Captures.Files;
using MeshTrace.Captures.Tests.Files;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Udp;

/// <summary>Receivers on an IP network, out of a capture of it.</summary>
public class UdpSourceTests
{
    private const int Port = 17_754;

    [Fact]
    public void EachSender_IsAReceiver_AndOtherInterfacesStay()
    {
        using UdpSource source = Open(writer =>
        {
            int wire = writer.AddInterface(LinkType.Ethernet, "backbone"), air = writer.AddInterface(LinkType.LeLinkLayer, "stairs");
            writer.Write(wire, 1_000, Datagram.IPv4Ethernet(Datagram.Udp(Port, [1])));
            writer.Write(air, 2_000, [2, 2]);
            writer.Write(wire, 3_000, Datagram.Ethernet(Datagram.IPv6("2001:db8::7", Datagram.Udp(Port, [3]))));
            writer.Write(wire, 4_000, Datagram.IPv4Ethernet(Datagram.Udp(Port, [4])));
            writer.Write(wire, 5_000, Datagram.IPv4Ethernet(Datagram.Udp(123, [5])));
        });
        ReadCapture read = ReadCapture.Of(source);
        Assert.Equal(["01", "0202", "03", "04"], read.Frames.Select(frame => frame.Octets));
        Assert.Equal([1_000, 2_000, 3_000, 4_000], read.Frames.Select(frame => frame.TimeNs));
        Assert.Equal(["backbone 192.0.2.1", "stairs", "backbone 2001:db8::7", "backbone 192.0.2.1"], read.Frames.Select(frame => read.Receivers[frame.Receiver].Interface));
        Assert.Equal(Enumerable.Range(0, 3), read.Receivers.Select(receiver => receiver.Index));
        Assert.Equal([251, 256, 256], read.Receivers.Select(receiver => receiver.LinkType.Number).Order());
        Assert.Equal((3, 1), (source.Counts[UdpFate.Datagram], source.Counts[UdpFate.OtherPort]));
        Assert.Equal([(123, 1L)], source.Counts.OtherPorts);
    }

    [Fact]
    public void FragmentsAndCutPackets_AreCounted()
    {
        using UdpSource source = Open(writer =>
        {
            int wire = writer.AddInterface(LinkType.Ethernet, null);
            byte[] whole = Datagram.IPv4Ethernet(Datagram.Udp(Port, new byte[50]));
            writer.Write(wire, 1_000, whole.AsSpan(0, 60), whole.Length);
            writer.Write(wire, 2_000, whole.AsSpan(0, 36), whole.Length);
            writer.Write(wire, 3_000, Datagram.Ethernet(Datagram.IPv4("192.0.2.1", Datagram.Udp(Port, [1]), 0x2000)));
            writer.Write(wire, 4_000, Datagram.IPv4Ethernet(Datagram.Udp(Port, [1], 3)));
            writer.WriteStatistics(wire, 5_000, received: 9, dropped: 7);
        });
        ReadFrame only = Assert.Single(ReadCapture.Of(source).Frames);
        Assert.Equal((50, true), (only.OriginalLength, only.IsCut));
        UdpCounts counts = source.Counts;
        Assert.Equal((1, 1, 1, 1, 1), (counts[UdpFate.Datagram], counts.CutDatagrams, counts[UdpFate.CutInHeaders], counts[UdpFate.Fragment], counts[UdpFate.Malformed]));
        Assert.Equal(7, source.ReportedDropped);
    }

    /// <summary>Forged senders must not take memory without end.</summary>
    [Fact]
    public void MoreSendersThanAnyBuildingHas_AreLeftOutAndCounted()
    {
        using UdpSource source = Open(writer =>
        {
            int wire = writer.AddInterface(LinkType.Ethernet, null);
            for (int i = 0; i < UdpSource.MostSenders + 40; i++)
                writer.Write(wire, i, Datagram.Ethernet(Datagram.IPv4($"198.51.{i / 250}.{i % 250}", Datagram.Udp(Port, [1]))));
        });
        ReadCapture read = ReadCapture.Of(source);
        Assert.Equal((UdpSource.MostSenders, UdpSource.MostSenders, 40), (read.Frames.Count, read.Receivers.Count, source.Counts.OverLimit));
    }

    [Fact]
    public void Damage_IsTheInnerSources()
    {
        using var file = new MemoryStream();
        using (var writer = new PcapWriter(file, LinkType.Ethernet, leaveOpen: true))
            writer.Write(1_000_000, Datagram.IPv4Ethernet(Datagram.Udp(Port, [1, 2])));
        file.Write([1, 2, 3]);
        file.Position = 0;
        using var source = new UdpSource(CaptureFile.Open(file, "network.pcap"), new UdpEncapsulation(Port, LinkType.LeLinkLayer));
        ReadCapture read = ReadCapture.Of(source);
        Assert.Single(read.Frames);
        Assert.NotNull(read.Damage);
    }

    private static UdpSource Open(Action<PcapNgWriter> write)
    {
        var file = new MemoryStream();
        using (var writer = new PcapNgWriter(file, leaveOpen: true))
            write(writer);
        file.Position = 0;
        return new UdpSource(CaptureFile.Open(file, "network.pcapng"), new UdpEncapsulation(Port, LinkType.LeLinkLayerWithRadioHeader));
    }
}
