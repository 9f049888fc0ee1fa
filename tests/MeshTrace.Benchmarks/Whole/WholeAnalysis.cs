using System.Diagnostics;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using SharpPcap;
using SharpPcap.LibPcap;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>Time of the clock and of the processor, in nanoseconds a frame.</summary>
internal readonly record struct Spent(double Clock, double Processor)
{
    public static Spent Least(IEnumerable<Spent> all) => new(all.Min(one => one.Clock), all.Min(one => one.Processor));
}

/// <summary>One capture, measured in turns in one process: the least of the rounds.</summary>
/// <param name="Frames">Its size.</param>
/// <param name="Theirs">SharpPcap merely reading it.</param>
/// <param name="Reading">Our reader alone.</param>
/// <param name="Analysis">The whole analysis on all cores.</param>
/// <param name="OneCore">The same on one.</param>
/// <param name="Ratio">Analysis to SharpPcap, round by round: the middle one, by the clock.</param>
/// <param name="ProcessorRatio">The same on one core, by the processor's time, which other work on the machine disturbs less.</param>
/// <param name="Retained">Octets kept a frame.</param>
internal sealed record WholeFigures(long Frames, Spent Theirs, Spent Reading, Spent Analysis, Spent OneCore, double Ratio, double ProcessorRatio, double Retained);

/// <summary>
/// Measures the analysis of a whole composed capture against SharpPcap merely reading the same file, in turns in one process, so that the ratio means
/// something on a noisy machine.
/// </summary>
internal static class WholeAnalysis
{
    public static WholeFigures Measure(LoadFile load, int rounds)
    {
        long frames = load.Summary.Frames;
        List<Spent> theirs = [], reading = [], ours = [], oneCore = [];
        for (int round = 0; round < rounds; round++)
        {
            theirs.Add(Take(frames, () => ReadTheirs(load.Capture)));
            reading.Add(Take(frames, () => ReadOurs(load.Capture)));
            ours.Add(Take(frames, () => GC.KeepAlive(Analysed(load.Capture, load.Description, Environment.ProcessorCount))));
            oneCore.Add(Take(frames, () => GC.KeepAlive(Analysed(load.Capture, load.Description, 1))));
        }
        return new WholeFigures(frames, Spent.Least(theirs), Spent.Least(reading), Spent.Least(ours), Spent.Least(oneCore),
            Middle(ours.Zip(theirs, (one, other) => one.Clock / other.Clock)), Middle(oneCore.Zip(theirs, (one, other) => one.Processor / other.Processor)),
            Retained(load) / (double)frames);
    }

    public static CaptureHistory Analysed(string capture, byte[] description, int cores)
    {
        var settings = new AnalysisSettings { Description = NetworkDescriptionReader.Read(description, "load"), Cores = cores };
        var analysis = new CaptureAnalysis(settings);
        using IFrameSource source = CaptureFile.Open(capture);
        analysis.Read(source);
        return analysis.Complete();
    }

    public static void ReadTheirs(string path)
    {
        using var device = new CaptureFileReaderDevice(path);
        device.Open();
        while (device.GetNextPacket(out _) == GetPacketStatus.PacketRead)
        {
        }
    }

    private static double Middle(IEnumerable<double> ratios)
    {
        double[] sorted = [.. ratios.Order()];
        return sorted[sorted.Length / 2];
    }

    private static Spent Take(long frames, Action action)
    {
        GC.Collect();
        TimeSpan before = Environment.CpuUsage.TotalTime;
        var watch = Stopwatch.StartNew();
        action();
        watch.Stop();
        return new Spent(watch.Elapsed.TotalNanoseconds / frames, (Environment.CpuUsage.TotalTime - before).TotalNanoseconds / frames);
    }

    /// <summary>Without what lies untouched at the end of a slab of the tables: there is no memory behind it.</summary>
    private static long Retained(LoadFile load)
    {
        long before = GC.GetTotalMemory(forceFullCollection: true);
        CaptureHistory history = Analysed(load.Capture, load.Description, 1);
        long after = GC.GetTotalMemory(forceFullCollection: true);
        GC.KeepAlive(history);
        return after - before - history.Memory.Untouched;
    }

    private static void ReadOurs(string path)
    {
        using IFrameSource source = CaptureFile.Open(path);
        while (source.TryReadNext(out _))
        {
        }
    }
}
