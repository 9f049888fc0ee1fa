using CsCheck;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using SharpPcap;
using SharpPcap.LibPcap;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>The same files through libpcap, the general-purpose reference: same packets, times, lengths and link type.</summary>
public sealed class LibpcapComparisonTests : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("captures").FullName;

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [SkippableTheory]
    [InlineData(false, false, 251)]
    [InlineData(false, true, 256)]
    [InlineData(true, false, 272)]
    [InlineData(true, true, 187)]
    public void PcapOfBothByteOrders(bool nanoseconds, bool bigEndian, int linkType) => Compare((stream, frames) =>
    {
        using var writer = new PcapWriter(stream, new LinkType(linkType), nanoseconds, bigEndian);
        foreach (Frame frame in frames)
            writer.Write(frame.TimeNs, frame.Octets, frame.OriginalLength);
    });

    [SkippableTheory]
    [InlineData(false, 9, false)]
    [InlineData(true, 9, false)]
    [InlineData(false, 6, false)]
    [InlineData(true, 3, false)]
    [InlineData(false, 20, true)]
    [InlineData(true, 30, true)]
    public void PcapNgWithOneLinkType(bool bigEndian, int exponent, bool binary) => Compare((stream, frames) =>
    {
        using var writer = new PcapNgWriter(stream, bigEndian, "a comparison");
        writer.AddInterface(LinkType.LeLinkLayer, "reading room", exponent, binary);
        writer.AddInterface(LinkType.LeLinkLayer, "stairs", exponent, binary);
        for (int i = 0; i < frames.Length; i++)
        {
            writer.Write(i % 2, frames[i].TimeNs, frames[i].Octets, frames[i].OriginalLength, crcError: i % 3 == 0);
            writer.WriteStatistics(0, frames[i].TimeNs, received: (ulong)i, dropped: 0);
        }
    });

    [SkippableFact]
    public void PcapThatSharpPcapWrote()
    {
        SkipWithoutLibpcap();
        string path = Path.Combine(_directory, "theirs");
        using (var device = new CaptureFileWriterDevice(path))
        {
            device.Open(new DeviceConfiguration { LinkLayerType = (PacketDotNet.LinkLayers)251 });
            for (int i = 0; i < 50; i++)
            {
                var packet = new RawCapture((PacketDotNet.LinkLayers)251, new PosixTimeval((ulong)(1_700_000_000 + i), (ulong)i * 1000), new byte[i + 1], i + 1);
                device.Write(packet);
            }
        }

        AssertSame(path);
    }

    /// <summary>A cut file: libpcap too gives what comes before, and then an error.</summary>
    [SkippableFact]
    public void CutPcap_SameFramesBeforeTheCut()
    {
        SkipWithoutLibpcap();
        Sample sample = SampleCaptures.All[0];
        string path = Path.Combine(_directory, "cut");
        for (int cut = sample.HeaderLength; cut < sample.Octets.Length; cut++)
        {
            File.WriteAllBytes(path, sample.Octets[..cut]);
            (List<Theirs> theirs, GetPacketStatus end) = ReadTheirs(path);
            ReadCapture ours = ReadCapture.Of(sample.Octets[..cut]);
            Assert.Equal(theirs, ours.Frames.Take(theirs.Count).Select(f => new Theirs(f.TimeNs, f.OriginalLength, f.Octets)));
            Assert.Equal(end == GetPacketStatus.Error, ours.Damage != null);
        }
    }

    private void Compare(Action<Stream, Frame[]> write)
    {
        SkipWithoutLibpcap();
        Gen<Frame[]> frames = Gen.Select(
            // SharpPcap keeps seconds in 32 signed bits in some places; 2037 is enough.
            Gen.Long[0, 2_114_380_800_000_000_000], Gen.Byte.Array[1, 80], Gen.Int[0, 40], (time, octets, missing) => new Frame(time, octets, octets.Length + missing))
            .Array[1, 60];
        frames.Sample(
            some =>
            {
                string path = Path.Combine(_directory, "ours");
                using (FileStream stream = File.Create(path))
                    write(stream, some);
                AssertSame(path);
            },
            iter: 50, threads: 1);
    }

    private static void AssertSame(string path)
    {
        (List<Theirs> theirs, GetPacketStatus end) = ReadTheirs(path);
        Assert.Equal(GetPacketStatus.NoRemainingPackets, end);
        using IFrameSource source = CaptureFile.Open(path);
        ReadCapture ours = ReadCapture.Of(source);
        Assert.Null(ours.Damage);
        Assert.NotEmpty(theirs);
        Assert.Equal(theirs, ours.Frames.Select(f => new Theirs(f.TimeNs, f.OriginalLength, f.Octets)));
        using var device = new CaptureFileReaderDevice(path);
        device.Open();
        Assert.Equal((int)device.LinkType, ours.Receivers[0].LinkType.Number);
    }

    private static (List<Theirs> Frames, GetPacketStatus End) ReadTheirs(string path)
    {
        using var device = new CaptureFileReaderDevice(path);
        device.Open(new DeviceConfiguration { TimestampResolution = TimestampResolution.Nanosecond });
        var frames = new List<Theirs>();
        GetPacketStatus status;
        while ((status = device.GetNextPacket(out PacketCapture capture)) == GetPacketStatus.PacketRead)
        {
            long timeNs = (long)(capture.Header.Timeval.Value * 1_000_000_000m);
            frames.Add(new Theirs(timeNs, (int)((PcapHeader)capture.Header).PacketLength, Convert.ToHexString(capture.Data)));
        }

        return (frames, status);
    }

    private static void SkipWithoutLibpcap()
    {
        bool there = true;
        try
        {
            _ = Pcap.SharpPcapVersion;
            _ = Pcap.LibpcapVersion;
        }
        catch (DllNotFoundException)
        {
            there = false;
        }

        Skip.IfNot(there, "libpcap is not installed (Debian: libpcap0.8): our readers are not compared with it");
    }

    private sealed record Frame(long TimeNs, byte[] Octets, int OriginalLength);

    private sealed record Theirs(long TimeNs, int OriginalLength, string Octets);
}
