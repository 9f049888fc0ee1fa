using BenchmarkDotNet.Attributes;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using SharpPcap;
using SharpPcap.LibPcap;

namespace MeshTrace.Benchmarks;

/// <summary>Reading a capture file packet by packet: our readers, and SharpPcap (libpcap) on the same file. Figures are for one
/// packet.</summary>
/// <remarks>The frames are of the length of a full mesh advertising packet with a radio header. SharpPcap needs libpcap.</remarks>
[MemoryDiagnoser]
public class ReadingBenchmarks
{
    private const int Packets = 1_000_000;
    private const int FrameLength = 10 + 4 + 2 + 6 + 31 + 3;    // radio header, access address, PDU header, AdvA, AdvData, CRC
    private const long Begin = 1_700_000_000_000_000_000, Step = 1_370_000;

    private string _directory = "";

    private string PcapPath => Path.Combine(_directory, "pcap");

    private string PcapNgPath => Path.Combine(_directory, "pcapng");

    private string BtSnoopPath => Path.Combine(_directory, "btsnoop");

    [GlobalSetup]
    public void WriteFiles()
    {
        _directory = Directory.CreateTempSubdirectory("reading").FullName;
        byte[] frame = new byte[FrameLength];
        new Random(1).NextBytes(frame);
        using var pcap = new PcapWriter(File.Create(PcapPath), LinkType.LeLinkLayerWithRadioHeader);
        using var pcapNg = new PcapNgWriter(File.Create(PcapNgPath));
        using var btSnoop = new BtSnoopWriter(File.Create(BtSnoopPath), 1002);
        pcapNg.AddInterface(LinkType.LeLinkLayerWithRadioHeader, "reading room");
        for (int i = 0; i < Packets; i++)
        {
            frame[^1] = (byte)i;
            pcap.Write(Begin + (i * Step), frame);
            pcapNg.Write(0, Begin + (i * Step), frame);
            btSnoop.Write(Begin + (i * Step), 3, frame);
        }
    }

    [GlobalCleanup]
    public void DeleteFiles() => Directory.Delete(_directory, recursive: true);

    [Benchmark(Baseline = true, OperationsPerInvoke = Packets)]
    public long SharpPcap_Pcap() => ReadTheirs(PcapPath);

    [Benchmark(OperationsPerInvoke = Packets)]
    public long SharpPcap_PcapNg() => ReadTheirs(PcapNgPath);

    [Benchmark(OperationsPerInvoke = Packets)]
    public long Ours_Pcap() => ReadOurs(PcapPath);

    [Benchmark(OperationsPerInvoke = Packets)]
    public long Ours_PcapNg() => ReadOurs(PcapNgPath);

    [Benchmark(OperationsPerInvoke = Packets)]
    public long Ours_BtSnoop() => ReadOurs(BtSnoopPath);

    private static long ReadOurs(string path)
    {
        using IFrameSource source = CaptureFile.Open(path);
        long sum = 0;
        while (source.TryReadNext(out CapturedFrame frame))
            sum += frame.Octets.Length + frame.TimeNs + frame.Octets[^1];
        return sum;
    }

    private static long ReadTheirs(string path)
    {
        using var device = new CaptureFileReaderDevice(path);
        device.Open();
        long sum = 0;
        while (device.GetNextPacket(out PacketCapture packet) == GetPacketStatus.PacketRead)
            sum += packet.Data.Length + (long)packet.Header.Timeval.MicroSeconds + packet.Data[^1];
        return sum;
    }
}
