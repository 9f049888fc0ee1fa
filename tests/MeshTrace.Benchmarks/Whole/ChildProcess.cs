using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using MeshTrace.Commands;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>What a process took from its start to its end.</summary>
/// <param name="Seconds">By the clock.</param>
/// <param name="ProcessorSeconds">Of the processor, compiling and collecting among it.</param>
/// <param name="PeakMiB">The most memory that it ever had.</param>
internal readonly record struct ProcessFigures(double Seconds, double ProcessorSeconds, double PeakMiB);

/// <summary>Runs a command of the program, or SharpPcap's reading, in a process of its own, and tells what it took.</summary>
internal static class ChildProcess
{
    /// <summary>SharpPcap merely reading a capture.</summary>
    public static ProcessFigures RunTheirs(string capture) => RunSelf("theirs", capture);

    /// <summary>A command line of the program; its output goes nowhere.</summary>
    /// <param name="program">A published program, or null for the one in this build, which compiles everything anew.</param>
    /// <param name="arguments">Its command line.</param>
    /// <exception cref="InvalidOperationException">It failed.</exception>
    public static ProcessFigures Run(string? program, params string[] arguments) =>
        program is null ? RunSelf(arguments) : RunSelf(["published", program, .. arguments]);

    /// <summary>The same in a process that ran it once before, so that compiling is in no figure; the most memory is that of both.</summary>
    public static ProcessFigures RunWarm(params string[] arguments) => RunSelf(["warm", .. arguments]);

    private static ProcessFigures RunSelf(params string[] arguments)
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
        if (child.ExitCode != 0 || told.Split(' ') is not [var inside, var processor, var peak])
            throw new InvalidOperationException($"{string.Join(' ', arguments)}: exit code {child.ExitCode}");
        double own = double.Parse(inside, CultureInfo.InvariantCulture);
        return new ProcessFigures(own > 0 ? own : seconds, double.Parse(processor, CultureInfo.InvariantCulture), double.Parse(peak, CultureInfo.InvariantCulture));
    }

    /// <summary>The child's side. Tells seconds (0: those of this whole process), seconds of the processor, and the most memory in MiB.</summary>
    public static int BeChild(string[] arguments)
    {
        if (arguments is ["published", var program, .. var commandLine])
            return Watch(program, commandLine);
        TimeSpan before = TimeSpan.Zero;
        double inside = 0;
        int code = 0;
        if (arguments is ["theirs", var capture])
            WholeAnalysis.ReadTheirs(capture);
        else if (arguments is ["warm", .. var twice])
        {
            Command(twice);
            before = Environment.CpuUsage.TotalTime;
            var watch = Stopwatch.StartNew();
            code = Command(twice);
            inside = watch.Elapsed.TotalSeconds;
        }
        else
            code = Command(arguments);
        using var self = Process.GetCurrentProcess();
        Console.Write(string.Create(CultureInfo.InvariantCulture, $"{inside} {(Environment.CpuUsage.TotalTime - before).TotalSeconds} {self.PeakWorkingSet64 / 1048576.0}"));
        return Judge(code);

        static int Command(string[] line) => new Application(new Surroundings { Output = Stream.Null, Error = Console.Error }).Run(line);
    }

    /// <summary>Runs a published program as the only child of this process: the system counts for it alone.</summary>
    private static int Watch(string program, string[] arguments)
    {
        var watch = Stopwatch.StartNew();
        using Process child = Process.Start(new ProcessStartInfo(program, arguments) { RedirectStandardOutput = true })!;
        child.StandardOutput.BaseStream.CopyTo(Stream.Null, 1 << 20);
        child.WaitForExit();
        double seconds = watch.Elapsed.TotalSeconds;
        const int Children = -1, MicrosecondsASecond = 1_000_000;
        if (GetResourceUsage(Children, out ResourceUsage used) != 0)
            return ExitCode.Internal;
        double processor = used.UserSeconds + used.SystemSeconds + ((used.UserMicroseconds + used.SystemMicroseconds) / (double)MicrosecondsASecond);
        Console.Write(string.Create(CultureInfo.InvariantCulture, $"{seconds} {processor} {used.MostResidentKiB / 1024.0}"));
        return Judge(child.ExitCode);
    }

    /// <summary>A capture that no key opens is one of the worst cases.</summary>
    private static int Judge(int code) => code == ExitCode.NothingDecoded ? 0 : code;

    [DllImport("libc", EntryPoint = "getrusage")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.System32)]
    private static extern int GetResourceUsage(int who, out ResourceUsage usage);

    /// <summary>struct rusage of POSIX, as a 64-bit Linux has it: times of the user and of the system, the most memory, and what is of no interest here.</summary>
    [StructLayout(LayoutKind.Sequential)]
    private struct ResourceUsage
    {
        public long UserSeconds, UserMicroseconds, SystemSeconds, SystemMicroseconds, MostResidentKiB;
        private Rest _rest;

        [System.Runtime.CompilerServices.InlineArray(13)]
        private struct Rest
        {
            private long _first;
        }
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
