using System.Diagnostics;
using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>What one stage took.</summary>
/// <param name="Stage">Its name.</param>
/// <param name="Ns">Nanoseconds a frame, the collector's among them: of processor time on one core, by the clock on several.</param>
/// <param name="CollectorNs">Of those, what the collector took.</param>
/// <param name="Octets">Octets allocated a frame.</param>
internal readonly record struct StageShare(string Stage, double Ns, double CollectorNs, double Octets);

/// <summary>
/// How much processor time each stage of an analysis takes, on one core: what other work on the machine does is in no figure; and how long it takes on all cores. Each stage's least of
/// several rounds, so that compiling and a cold cache are in none either.
/// </summary>
internal static class StageShares
{
    private const int Rounds = 7;

    /// <summary>The stages in the order in which they begin.</summary>
    public static IReadOnlyList<StageShare> Measure(string capture, byte[] description, long frames, int cores = 1, int rounds = Rounds)
    {
        var least = new List<StageShare>();
        for (int round = 0; round < rounds; round++)
            foreach (StageShare share in Once(capture, description, frames, cores))
            {
                int at = least.FindIndex(one => one.Stage == share.Stage);
                if (at < 0)
                    least.Add(share);
                else if (share.Ns < least[at].Ns)
                    least[at] = share;
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
            Tell(Measure(load.Capture, load.Description, frames), frames);
            TellByClock(Measure(load.Capture, load.Description, frames, Environment.ProcessorCount), frames);
        }
        return 0;
    }

    /// <summary>Stages that took at least a hundredth, and the rest together.</summary>
    public static void Tell(IReadOnlyList<StageShare> shares, long frames)
    {
        double all = shares.Sum(share => share.Ns);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"Of {frames:N0} frames, one core: {all:F0} ns of processor time a frame, {shares.Sum(share => share.CollectorNs):F0} of it the collector's; {shares.Sum(share => share.Octets):F0} octets allocated.\n"));
        Console.WriteLine("| stage | a frame | share | allocated |\n| --- | --- | --- | --- |");
        StageShare[] shown = [.. shares.Where(share => share.Ns > all / 100)];
        foreach (StageShare share in shown)
            Row(share, all);
        Row(new StageShare("all other stages and findings", all - shown.Sum(share => share.Ns), 0, shares.Sum(share => share.Octets) - shown.Sum(share => share.Octets)), all);

        static void Row(StageShare share, double all) =>
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {share.Stage} | {share.Ns:F1} ns | {share.Ns / all:P1} | {share.Octets:F1} B |"));
    }

    /// <summary>The same by the clock on all cores; of two stages that run side by side, both count as the first.</summary>
    private static void TellByClock(IReadOnlyList<StageShare> shares, long frames)
    {
        double all = shares.Sum(share => share.Ns);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"\nOf {frames:N0} frames, {Environment.ProcessorCount} cores: {all:F0} ns by the clock a frame.\n\n| stage | a frame | share |\n| --- | --- | --- |"));
        foreach (StageShare share in shares.Where(share => share.Ns > all / 100))
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {share.Stage} | {share.Ns:F1} ns | {share.Ns / all:P1} |"));
    }

    private static List<StageShare> Once(string capture, byte[] description, long frames, int cores)
    {
        GC.Collect();
        var spent = new List<StageShare>();
        string current = "keys and description";
        (TimeSpan Time, TimeSpan Collector, long Octets) since = Now();
        var settings = new AnalysisSettings { Description = NetworkDescriptionReader.Read(description, "load"), Cores = cores };
        var analysis = new CaptureAnalysis(settings) { StageBegins = Begin };
        using IFrameSource source = CaptureFile.Open(capture);
        analysis.Read(source);
        GC.KeepAlive(analysis.Complete());
        return spent;

        (TimeSpan, TimeSpan, long) Now() => (cores == 1 ? Environment.CpuUsage.TotalTime : Stopwatch.GetElapsedTime(0), GC.GetTotalPauseDuration(), GC.GetAllocatedBytesForCurrentThread());

        void Begin(string stage)
        {
            (TimeSpan Time, TimeSpan Collector, long Octets) now = Now();
            int at = spent.FindIndex(one => one.Stage == current);
            StageShare before = at < 0 ? new StageShare(current, 0, 0, 0) : spent[at];
            var share = new StageShare(current, before.Ns + ((now.Time - since.Time).TotalNanoseconds / frames),
                before.CollectorNs + ((now.Collector - since.Collector).TotalNanoseconds / frames), before.Octets + ((now.Octets - since.Octets) / (double)frames));
            if (at < 0)
                spent.Add(share);
            else
                spent[at] = share;
            (current, since) = (stage, now);
        }
    }
}
