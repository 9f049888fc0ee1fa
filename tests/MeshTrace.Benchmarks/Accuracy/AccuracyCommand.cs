using System.Diagnostics;
using System.Globalization;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>accuracy [--networks N] [--seed S] [--finding ID] [--write]</summary>
internal static class AccuracyCommand
{
    public const ulong Seed = 20261125;
    public const int Networks = 36;

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
                case "--write":
                    write = true;
                    break;
                default:
                    Console.Error.WriteLine("usage: accuracy [--networks N] [--seed S] [--finding ID] [--write]");
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
}
