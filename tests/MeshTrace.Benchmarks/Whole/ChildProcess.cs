using System.Diagnostics;
using System.Globalization;
using MeshTrace.Commands;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>What a process took from its start to its end.</summary>
/// <param name="Seconds">By the clock.</param>
/// <param name="ProcessorSeconds">Of the processor, compiling and collecting among it.</param>
/// <param name="PeakMiB">The most memory that it ever had.</param>
internal readonly record struct ProcessFigures(double Seconds, double ProcessorSeconds, double PeakMiB);

/// <summary>Runs a command of the program, or SharpPcap's reading, in a process of its own, which tells what it took.</summary>
internal static class ChildProcess
{
    /// <summary>The parent's side.</summary>
    /// <param name="arguments">"theirs" FILE, or a command line of the program; its output goes nowhere.</param>
    /// <exception cref="InvalidOperationException">It failed.</exception>
    public static ProcessFigures Run(params string[] arguments)
    {
        var start = new ProcessStartInfo(Environment.ProcessPath!) { RedirectStandardOutput = true };
        if (Path.GetFileNameWithoutExtension(Environment.ProcessPath!) == "dotnet")
            start.ArgumentList.Add(Path.Combine(AppContext.BaseDirectory, "MeshTrace.Benchmarks.dll"));
        start.ArgumentList.Add("child");
        foreach (string argument in arguments)
            start.ArgumentList.Add(argument);
        var watch = Stopwatch.StartNew();
        using Process child = Process.Start(start)!;
        string told = child.StandardOutput.ReadToEnd();
        child.WaitForExit();
        double seconds = watch.Elapsed.TotalSeconds;
        if (child.ExitCode != 0 || told.Split(' ') is not [var processor, var peak])
            throw new InvalidOperationException($"{string.Join(' ', arguments)}: exit code {child.ExitCode}");
        return new ProcessFigures(seconds, double.Parse(processor, CultureInfo.InvariantCulture), double.Parse(peak, CultureInfo.InvariantCulture));
    }

    /// <summary>The child's side.</summary>
    public static int BeChild(string[] arguments)
    {
        int code = 0;
        if (arguments is ["theirs", var capture])
            WholeAnalysis.ReadTheirs(capture);
        else
            code = new Application(new Surroundings { Output = Stream.Null, Error = Console.Error }).Run(arguments);
        using var self = Process.GetCurrentProcess();
        Console.Write(string.Create(CultureInfo.InvariantCulture, $"{Environment.CpuUsage.TotalTime.TotalSeconds} {self.PeakWorkingSet64 / 1048576.0}"));
        return code == ExitCode.NothingDecoded ? 0 : code;     // a capture that no key opens is one of the worst cases
    }

    /// <summary>Seconds from the start of a program to its first line on standard output: the least of some runs.</summary>
    public static double FirstLine(string program, string[] arguments, int runs = 9)
    {
        double least = double.MaxValue;
        for (int run = 0; run < runs; run++)
        {
            var start = new ProcessStartInfo(program, arguments) { RedirectStandardOutput = true, RedirectStandardError = true };
            var watch = Stopwatch.StartNew();
            using Process child = Process.Start(start)!;
            child.ErrorDataReceived += (_, _) => { };
            child.BeginErrorReadLine();
            if (child.StandardOutput.ReadLine() is not null)
                least = Math.Min(least, watch.Elapsed.TotalSeconds);
            child.StandardOutput.ReadToEnd();
            child.WaitForExit();
        }
        return least;
    }
}
