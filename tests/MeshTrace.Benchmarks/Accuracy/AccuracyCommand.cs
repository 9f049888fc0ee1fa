using System.Diagnostics;
using System.Globalization;
using MeshTrace.Synthesis;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>
/// accuracy [--networks N] [--seed S] [--finding ID] [--write], or accuracy --finding ID --keep INDEX DIR: one network's capture, description and truth, with the
/// fault and as healthy twin, to look at with the program.
/// </summary>
internal static class AccuracyCommand
{
    public const ulong Seed = 88001;
    public const int Networks = 60;

    public static int Run(string[] arguments)
    {
        ulong seed = Seed;
        int networks = Networks;
        string? only = null;
        bool write = false;
        for (int i = 0; i < arguments.Length; i++)
        {
            switch (arguments[i])
            {
                case "--networks" when i + 1 < arguments.Length:
                    networks = int.Parse(arguments[++i], CultureInfo.InvariantCulture);
                    break;
                case "--seed" when i + 1 < arguments.Length:
                    seed = ulong.Parse(arguments[++i], CultureInfo.InvariantCulture);
                    break;
                case "--finding" when i + 1 < arguments.Length:
                    only = arguments[++i];
                    break;
                case "--keep" when i + 2 < arguments.Length && only is not null:
                    Keep(seed, only, int.Parse(arguments[i + 1], CultureInfo.InvariantCulture), arguments[i + 2]);
                    return 0;
                case "--write":
                    write = true;
                    break;
                default:
                    Console.Error.WriteLine("usage: accuracy [--networks N] [--seed S] [--finding ID] [--write] | accuracy [--seed S] --finding ID --keep INDEX DIR");
                    return 1;
            }
        }
        var watch = Stopwatch.StartNew();
        var run = new AccuracyRun(seed, networks, only);
        run.Run();
        foreach (Complaint complaint in run.Complaints.OrderBy(one => one.Id, StringComparer.Ordinal).ThenBy(one => one.Case, StringComparer.Ordinal).ThenBy(one => one.Network.Index))
            Console.WriteLine($"{complaint.Id} in {complaint.Case}: {complaint.Why} [{complaint.Network}]");
        string document = AccuracyDocument.Write(run, FigureComparison.Make());
        Console.WriteLine(document);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{run.Twins} healthy networks, {watch.Elapsed.TotalSeconds:F0} s"));
        if (write)
            AccuracyDocument.Put(document);
        return 0;
    }

    private static void Keep(ulong seed, string finding, int index, string directory)
    {
        FaultCase one = FaultCases.All.First(known => known.Id == finding);
        DrawnNetwork network = NetworkDrawing.Draw(seed, index, one.Needs);
        Composer.Compose(network.With(one.Faults(network)), finding, Path.Combine(directory, "faulty"));
        Composer.Compose(network.With(), finding, Path.Combine(directory, "healthy"));
        Console.WriteLine(network);
    }
}
