using System.Globalization;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>Captures that are hard on one part of the analysis, each at two sizes: twice the frames may cost twice the work, and no more.</summary>
internal static class WorstCases
{
    private const long Frames = 200_000;
    private const int Rounds = 3;

    private static readonly (string Case, LoadPlan Plan)[] Cases =
    [
        ("as the load", new LoadPlan { Frames = Frames }),
        ("1,000 networks in the description", new LoadPlan { Frames = Frames, Networks = 1_000, ForeignNetworks = 100, NodesPerNetwork = 10 }),
        ("30 AppKeys share an AID", new LoadPlan { Frames = Frames, AppKeysSharingAid = 30 }),
        ("10,000 nodes", new LoadPlan { Frames = Frames, Networks = 4, ForeignNetworks = 0, NodesPerNetwork = 2_500 }),
        ("floods of 200 copies", new LoadPlan { Frames = Frames, CopiesPerFlood = 200 }),
        ("no frame that a key opens", new LoadPlan { Frames = Frames, Networks = 0, ForeignNetworks = 6, UnrelatedShare = 0 }),
        ("every frame another PDU", new LoadPlan { Frames = Frames, CopiesPerFlood = 1, UnrelatedShare = 0 }),
    ];

    /// <param name="program">A published program, or null for this build after a run that compiles it.</param>
    public static void Run(string? program)
    {
        Console.WriteLine("| case | processor time a frame | at twice the frames | ratio | most memory |");
        Console.WriteLine("| --- | --- | --- | --- | --- |");
        foreach ((string name, LoadPlan plan) in Cases)
        {
            ProcessFigures once = Take(program, plan), twice = Take(program, plan with { Frames = 2 * Frames });
            double few = once.ProcessorSeconds / Frames * 1e9, many = twice.ProcessorSeconds / (2 * Frames) * 1e9;
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {name} | {few:F0} ns | {many:F0} ns | {many / few:F2} | {twice.PeakMiB:F0} MiB |"));
        }
    }

    private static ProcessFigures Take(string? program, LoadPlan plan)
    {
        using var load = new LoadFile(plan);
        string[] arguments = ["records", load.Capture, "--network", load.Network, "--only", "finding"];
        ProcessFigures[] all = [.. Enumerable.Range(0, Rounds).Select(_ => program is null ? ChildProcess.RunWarm(arguments) : ChildProcess.Run(program, arguments))];
        return new ProcessFigures(all.Min(one => one.Seconds), all.Min(one => one.ProcessorSeconds), all.Min(one => one.PeakMiB));
    }
}
