using System.Diagnostics;
using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Load;
using SharpPcap;
using SharpPcap.LibPcap;

namespace MeshTrace.Benchmarks;

/// <summary>
/// Measures the analysis of a whole composed capture against SharpPcap merely reading the same file, in turns in one process, so that the ratio means
/// something on a noisy machine: 70 % unrelated advertising, four networks with keys and two without.
/// </summary>
internal static class WholeAnalysis
{
    private const int Rounds = 5;

    public static int Run(string[] arguments)
    {
        long[] sizes = arguments.Length == 0 ? [10_000, 100_000, 1_000_000] : [.. arguments.Select(text => long.Parse(text, CultureInfo.InvariantCulture))];
        Console.WriteLine("frames      SharpPcap reads   reading alone   analysis   ratio to SharpPcap   one core   retained B/frame   peak working set");
        foreach (long frames in sizes)
            Measure(frames);
        return 0;
    }

    private static void Measure(long frames)
    {
        string directory = Directory.CreateTempSubdirectory("whole").FullName;
        try
        {
            LoadComposer.Compose(new LoadPlan { Frames = frames }, directory, "load");
            string capture = Directory.GetFiles(directory, "*.pcapng").Single();
            byte[] description = File.ReadAllBytes(Directory.GetFiles(directory, "*.network.json").Single());
            var theirs = new List<double>();
            var reading = new List<double>();
            var ours = new List<double>();
            var oneCore = new List<double>();
            double retained = 0;
            for (int round = 0; round < Rounds; round++)
            {
                theirs.Add(NsAFrame(frames, () => ReadTheirs(capture)));
                reading.Add(NsAFrame(frames, () => ReadOurs(capture)));
                ours.Add(NsAFrame(frames, () => Analyse(capture, description, Environment.ProcessorCount)));
                oneCore.Add(NsAFrame(frames, () => Analyse(capture, description, 1)));
            }
            retained = Retained(capture, description) / (double)frames;
            long peak = Process.GetCurrentProcess().PeakWorkingSet64 >> 20;
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"{frames,-11} {theirs.Min(),10:F0} ns {reading.Min(),15:F0} ns {ours.Min(),10:F0} ns {ours.Min() / theirs.Min(),16:F2} {oneCore.Min(),15:F0} ns {retained,14:F1} {peak,15} MiB"));
        }
        finally
        {
            Directory.Delete(directory, recursive: true);
        }
    }

    private static double NsAFrame(long frames, Action action)
    {
        var watch = Stopwatch.StartNew();
        action();
        return watch.Elapsed.TotalNanoseconds / frames;
    }

    private static void Analyse(string capture, byte[] description, int cores) => GC.KeepAlive(Analysed(capture, description, cores));

    private static CaptureHistory Analysed(string capture, byte[] description, int cores)
    {
        var settings = new AnalysisSettings { Description = NetworkDescriptionReader.Read(description, "load"), Cores = cores };
        var analysis = new CaptureAnalysis(settings);
        using IFrameSource source = CaptureFile.Open(capture);
        analysis.Read(source);
        return analysis.Complete();
    }

    private static long Retained(string capture, byte[] description)
    {
        long before = GC.GetTotalMemory(forceFullCollection: true);
        CaptureHistory history = Analysed(capture, description, 1);
        long after = GC.GetTotalMemory(forceFullCollection: true);
        GC.KeepAlive(history);
        return after - before;
    }

    private static void ReadOurs(string path)
    {
        using IFrameSource source = CaptureFile.Open(path);
        while (source.TryReadNext(out _))
        {
        }
    }

    private static void ReadTheirs(string path)
    {
        using var device = new CaptureFileReaderDevice(path);
        device.Open();
        while (device.GetNextPacket(out _) == GetPacketStatus.PacketRead)
        {
        }
    }
}
