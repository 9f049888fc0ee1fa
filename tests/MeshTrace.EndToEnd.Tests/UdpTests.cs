using System.Buffers.Binary;
using MeshTrace.Captures.Files;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Protocol.Link;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>Receivers on the building network.</summary>
public sealed class UdpTests : IDisposable
{
    private static readonly string[] Options = ["--udp-port", "17754", "--udp-link-type", "251"];

    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void CarriedFrames_GiveTheSamePressesAsTheReceiversOwnRecording()
    {
        string plain = _folder.Write("evening.pcap", Boathouse.Capture()), carried = _folder.Write("network.pcap", Carried());
        Outcome expected = Program.RunHere(["records", plain, "--only", "flood,message,press,finding", .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Outcome found = Program.RunHere(["records", carried, "--only", "flood,message,press,finding", .. Options, .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.NotEmpty(expected.Records("press"));
        Assert.Equal(expected.Records().Skip(1).Select(record => record.GetRawText()), found.Records().Skip(1).Select(record => record.GetRawText()));
        Assert.Equal("192.0.2.1", found.Records("contract").Single().GetProperty("receivers")[0].GetProperty("interface").GetString());
        Assert.Contains("5 datagrams to UDP port 17754, link type 251, from 1 sender (192.0.2.1), each a receiver; 1 IP fragment, which is not put together", found.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void AnExcerpt_HoldsTheFramesWithoutWhatCarriedThem()
    {
        string carried = _folder.Write("network.pcap", Carried()), excerpt = _folder.File("press.pcapng");
        Program.RunHere(["excerpt", carried, "--press", "2", "--to", excerpt, .. Options, .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.NotEmpty(Program.RunHere(["records", excerpt, .. Boathouse.Keys]).Ended(ExitCode.Fine).Records("press"));
    }

    [Fact]
    public void WithoutTheOptions_TheyAreNamed()
    {
        Outcome outcome = Program.RunHere(["explain", _folder.Write("network.pcap", Carried()), .. Boathouse.Keys]).Ended(ExitCode.NothingDecoded);
        Assert.Contains("recorded on an IP network (link type 1)", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("--udp-port", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("--udp-link-type", outcome.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void AWrongPort_IsToldWithThoseThatWereMet()
    {
        Outcome outcome = Program.RunHere(["explain", _folder.Write("network.pcap", Carried()), "--udp-port", "9", "--udp-link-type", "251", .. Boathouse.Keys]).Ended(ExitCode.NothingDecoded);
        Assert.Contains("17754 (5)", outcome.Error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("--udp-port", "17754", "needs --udp-link-type")]
    [InlineData("--udp-link-type", "256", "needs --udp-port")]
    [InlineData("--udp-port", "70000", "--udp-link-type", "256", "no UDP port")]
    [InlineData("--udp-port", "1", "--udp-link-type", "1", "no link type")]
    public void HalfOrWrongOptions_AreRefused(params string[] typedAndSays)
    {
        Outcome outcome = Program.RunHere(["explain", _folder.Write("network.pcap", Carried()), .. typedAndSays[..^1]]).Ended(ExitCode.Usage);
        Assert.Contains(typedAndSays[^1], outcome.Error, StringComparison.Ordinal);
    }

    /// <summary>The boathouse's frames in UDP over IPv4 over Ethernet, laid out after RFC 768 and RFC 791, and a fragment of something else.</summary>
    private static byte[] Carried()
    {
        using IFrameSource frames = CaptureFile.Open(new MemoryStream(Boathouse.Capture()), "boathouse");
        using var file = new MemoryStream();
        using (var writer = new PcapWriter(file, LinkType.Ethernet, nanoseconds: true, leaveOpen: true))
        {
            long time = 0;
            while (frames.TryReadNext(out CapturedFrame frame))
                writer.Write(time = frame.TimeNs, Packet(frame.Octets, fragment: 0));
            writer.Write(time, Packet([1, 2, 3], fragment: 0x2000));
        }
        return file.ToArray();
    }

    private static byte[] Packet(ReadOnlySpan<byte> content, int fragment)
    {
        byte[] packet = [2, 0, 0, 0, 0, 1, 2, 0, 0, 0, 0, 2, 0x08, 0x00, 0x45, 0, 0, 0, 0, 0, 0, 0, 64, 17, 0, 0, 192, 0, 2, 1, 192, 0, 2, 99, 0x9C, 0x40, 0, 0, 0, 0, 0, 0, .. content];
        BinaryPrimitives.WriteUInt16BigEndian(packet.AsSpan(16), (ushort)(packet.Length - 14));
        BinaryPrimitives.WriteUInt16BigEndian(packet.AsSpan(20), (ushort)fragment);
        BinaryPrimitives.WriteUInt16BigEndian(packet.AsSpan(36), 17_754);
        BinaryPrimitives.WriteUInt16BigEndian(packet.AsSpan(38), (ushort)(packet.Length - 34));
        return packet;
    }
}
