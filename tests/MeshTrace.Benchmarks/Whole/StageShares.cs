using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>
/// How much processor time each stage of an analysis takes, on one core: what other work on the machine does is in no figure. Each stage's least of
/// several rounds, so that compiling and a cold cache are in none either.
/// </summary>
internal static class StageShares
{
    private const int Rounds = 5;

    /// <summary>Nanoseconds of processor time a frame, by stage, in the order in which they begin.</summary>
    public static IReadOnlyList<(string Stage, double Ns)> Measure(string capture, byte[] description, long frames, int rounds = Rounds)
    {
        var least = new List<(string Stage, double Ns)>();
        for (int round = 0; round < rounds; round++)
            foreach ((string stage, double ns) in Once(capture, description, frames))
            {
                int at = least.FindIndex(one => one.Stage == stage);
                if (at < 0)
                    least.Add((stage, ns));
                else if (ns < least[at].Ns)
                    least[at] = (stage, ns);
            }
        return least;
    }

    /// <summary>stages FRAMES...: a table for each size.</summary>
    public static int Run(string[] arguments)
    {
        foreach (string text in arguments)
        {
            long frames = long.Parse(text, CultureInfo.InvariantCulture);
            using var load = new LoadFile(frames);
            IReadOnlyList<(string Stage, double Ns)> shares = Measure(load.Capture, load.Description, frames);
            double all = shares.Sum(share => share.Ns);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{frames} frames: {all:F1} ns of processor time a frame"));
            foreach ((string stage, double ns) in shares.Where(share => share.Ns > all / 1000))
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{ns,8:F1} ns {ns / all,7:P1}  {stage}"));
        }
        return 0;
    }

    private static List<(string Stage, double Ns)> Once(string capture, byte[] description, long frames)
    {
        GC.Collect();
        var spent = new List<(string Stage, double Ns)>();
        string current = "keys and description";
        TimeSpan since = Environment.CpuUsage.TotalTime;
        var settings = new AnalysisSettings { Description = NetworkDescriptionReader.Read(description, "load"), Cores = 1 };
        var analysis = new CaptureAnalysis(settings) { StageBegins = Begin };
        using IFrameSource source = CaptureFile.Open(capture);
        analysis.Read(source);
        GC.KeepAlive(analysis.Complete());
        return spent;

        void Begin(string stage)
        {
            TimeSpan now = Environment.CpuUsage.TotalTime;
            int at = spent.FindIndex(one => one.Stage == current);
            double ns = (now - since).TotalNanoseconds / frames;
            if (at < 0)
                spent.Add((current, ns));
            else
                spent[at] = (current, spent[at].Ns + ns);
            (current, since) = (stage, now);
        }
    }
}
