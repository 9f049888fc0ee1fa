using System.Globalization;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>
/// whole [--worst] [--program FILE] [FRAMES...]: the tables of docs/performance.md as they stand there, from composed captures (four networks with keys and two without, 70 %
/// unrelated advertising, eight copies of a Network PDU).
/// </summary>
internal static class WholeCommand
{
    /// <summary>Above it a round takes long and is steady.</summary>
    private const long Large = 2_000_000;
    private const int Rounds = 7, FewRounds = 2, MostProcesses = 5;

    public static int Run(string[] arguments)
    {
        var sizes = new List<long>();
        string? program = null;
        bool worst = false;
        for (int i = 0; i < arguments.Length; i++)
        {
            if (arguments[i] == "--worst")
                worst = true;
            else if (arguments[i] == "--program" && i + 1 < arguments.Length)
                program = arguments[++i];
            else
                sizes.Add(long.Parse(arguments[i], CultureInfo.InvariantCulture));
        }
        if (worst)
        {
            WorstCases.Run(program);
            return 0;
        }
        if (sizes.Count == 0)
            sizes = [10_000, 100_000, 1_000_000, 10_000_000];
        Tell(sizes, program);
        return 0;
    }

    private static void Tell(List<long> sizes, string? program)
    {
        DecryptionFloors.Tell();
        var wholes = new List<WholeFigures>();
        var processes = new List<(long Frames, ProcessFigures Theirs, ProcessFigures Records, ProcessFigures Explain)>();
        IReadOnlyList<StageShare> shares = [];
        long sharesOf = 0;
        foreach (long frames in sizes)
        {
            using var load = new LoadFile(frames);
            int rounds = frames > Large ? FewRounds : Rounds;
            // Each in a process of its own first, while this one is small; SharpPcap and the account in turns.
            List<ProcessFigures> theirs = [], explain = [], records = [];
            for (int process = 0; process < MostProcesses; process++)
            {
                theirs.Add(ChildProcess.RunTheirs(load.Capture));
                explain.Add(ChildProcess.Run(program, "explain", load.Capture, "--network", load.Network));
            }
            for (int process = 0; process < Math.Min(rounds, MostProcesses); process++)
                records.Add(ChildProcess.Run(program, "records", load.Capture, "--network", load.Network));
            processes.Add((frames, LeastOf(theirs), LeastOf(records), LeastOf(explain)));
            wholes.Add(WholeAnalysis.Measure(load, rounds));
            if (frames <= Large)
                (shares, sharesOf) = (StageShares.Measure(load.Capture, load.Description, frames), frames);
            Console.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"measured {frames} frames"));
        }
        Console.WriteLine("\n| frames | SharpPcap merely reads | our reader alone | whole analysis | **analysis / SharpPcap** | on one core | by processor time, one core | retained a frame |");
        Console.WriteLine("| --- | --- | --- | --- | --- | --- | --- | --- |");
        foreach (WholeFigures one in wholes)
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"| {one.Frames:N0} | {one.Theirs.Clock:F0} | {one.Reading.Clock:F0} | {one.Analysis.Clock:F0} | **{one.Ratio:F2}** | {one.OneCore.Clock:F0} | {one.ProcessorRatio:F2} | {one.Retained:F1} B |"));
        Console.WriteLine("\n| frames | SharpPcap's process | `explain` | **`explain` / SharpPcap** | most memory | `records` to nowhere | most memory |");
        Console.WriteLine("| --- | --- | --- | --- | --- | --- | --- |");
        foreach (var one in processes)
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"| {one.Frames:N0} | {Say(one.Theirs)} | {Say(one.Explain)} | **{one.Explain.Seconds / one.Theirs.Seconds:F2}** | {one.Explain.PeakMiB:F0} MiB | {Say(one.Records)} | {one.Records.PeakMiB:F0} MiB |"));
        if (sizes.Count > 2)
        {
            Console.WriteLine("\n| straight line through | fixed | a frame | greatest residual |\n| --- | --- | --- | --- |");
            TellFit("`records`, processor time", "s", processes.Select(one => ((double)one.Frames, one.Records.ProcessorSeconds)));
            TellFit("`explain`, processor time", "s", processes.Select(one => ((double)one.Frames, one.Explain.ProcessorSeconds)));
            TellFit("`explain`, most memory", "MiB", processes.Select(one => ((double)one.Frames, one.Explain.PeakMiB)));
        }
        Console.WriteLine();
        if (sharesOf > 0)
            StageShares.Tell(shares, sharesOf);
        if (program is not null)
            TellFirstLine(program);
    }

    private static void TellFit(string what, string unit, IEnumerable<(double Frames, double Value)> points)
    {
        var fit = LinearFit.Of([.. points]);
        string a = unit == "s" ? string.Create(CultureInfo.InvariantCulture, $"{fit.PerFrame * 1e9:F0} ns") : string.Create(CultureInfo.InvariantCulture, $"{fit.PerFrame * 1048576:F1} B");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {what} | {fit.Fixed:F2} {unit} | {a} | {fit.WorstResidual:P0} |"));
    }

    private static void TellFirstLine(string program)
    {
        string folder = AppContext.BaseDirectory;
        while (!Directory.Exists(Path.Combine(folder, "captures-demo")))
            folder = Path.GetDirectoryName(folder.TrimEnd('/'))!;
        string capture = Path.Combine(folder, "captures-demo", "library.pcapng"), network = Path.Combine(folder, "captures-demo", "library.network.json");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"\nThe first line of `explain` on the demo came {ChildProcess.FirstLine(program, ["explain", capture, "--network", network]):F3} s after the program's start."));
    }

    private static ProcessFigures LeastOf(List<ProcessFigures> all) => new(all.Min(one => one.Seconds), all.Min(one => one.ProcessorSeconds), all.Min(one => one.PeakMiB));

    private static string Say(ProcessFigures one) => string.Create(CultureInfo.InvariantCulture, $"{one.Seconds:F2} s ({one.ProcessorSeconds:F2})");
}
