using System.IO.Compression;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>Small captures of every format and byte order, each of some frames, for tests that damage them.</summary>
internal static class SampleCaptures
{
    public const long Time = 1_700_000_000_123_456_000;

    /// <summary>Name, octets, and octets of the file header, without which a file cannot be opened.</summary>
    public static IReadOnlyList<Sample> All { get; } =
    [
        new("pcap, little-endian, microseconds", Pcap(false, false), 24),
        new("pcap, big-endian, microseconds", Pcap(false, true), 24),
        new("pcap, little-endian, nanoseconds", Pcap(true, false), 24),
        new("pcap, big-endian, nanoseconds", Pcap(true, true), 24),
        new("pcapng, little-endian, then big-endian", PcapNg(false), 24),
        new("pcapng, big-endian, then little-endian", PcapNg(true), 24),
        new("BTSnoop, HCI", BtSnoop(1001), 16),
        new("BTSnoop, HCI UART", BtSnoop(1002), 16),
        new("BTSnoop, host monitor", BtSnoop(2001), 16),
    ];

    /// <summary>For theories.</summary>
    public static TheoryData<string> Names { get; } = [.. All.Select(sample => sample.Name)];

    public static Sample Get(string name) => All.Single(sample => sample.Name == name);

    public static byte[] Gzip(ReadOnlySpan<byte> octets)
    {
        using var packed = new MemoryStream();
        using (var packer = new GZipStream(packed, CompressionLevel.Optimal, leaveOpen: true))
            packer.Write(octets);
        return packed.ToArray();
    }

    private static byte[] Pcap(bool nanoseconds, bool bigEndian)
    {
        using var stream = new MemoryStream();
        using (var writer = new PcapWriter(stream, LinkType.LeLinkLayer, nanoseconds, bigEndian, leaveOpen: true))
        {
            writer.Write(Time, [1, 2, 3, 4, 5]);
            writer.Write(Time + 1_000_000, [6, 7], originalLength: 9);
            writer.Write(Time + 2_000_000, [8, 9, 10]);
        }

        return stream.ToArray();
    }

    private static byte[] PcapNg(bool big)
    {
        var b = new PcapNgBytes(big).Section(big);
        b.Interface(251, 0, b.Option(2, "entrance"), b.Option(9, [9]), b.EndOfOptions).Interface(256, 0);
        b.Enhanced(0, (ulong)Time, "0102030405", null, b.Option(2, b.U32(1 << 24)), b.EndOfOptions);
        b.Simple(3, "060708");
        b.Block(4, b.U32(0));
        b.Enhanced(1, (ulong)Time / 1000, "09");
        b.Section(!big);
        b.Interface(187, 0).Obsolete(0, 1, (ulong)Time / 1000, "0A0B0C", 8);
        b.Statistics(0, b.Option(5, b.U64(1)), b.EndOfOptions);
        return b.ToArray();
    }

    private static byte[] BtSnoop(int datalink)
    {
        using var stream = new MemoryStream();
        using (var writer = new BtSnoopWriter(stream, datalink, leaveOpen: true))
        {
            writer.Write(Time, 0x0000_0003, [4, 0x3E, 1]);
            writer.Write(Time + 1_000_000, 0x0001_0002, [1, 2], originalLength: 5);
            writer.Write(Time + 2_000_000, 0x0000_0003, [4], cumulativeDrops: 1);
        }

        return stream.ToArray();
    }
}

/// <param name="HeaderLength">Octets of the file header.</param>
internal sealed record Sample(string Name, byte[] Octets, int HeaderLength);
