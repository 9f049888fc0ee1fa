using System.Diagnostics;
using System.Globalization;
using MeshTrace.Benchmarks.Whole;

namespace MeshTrace.Benchmarks.Terminals;

/// <summary>
/// terminal [--program FILE] [--runs N] [--size COLUMNSxLINES]... [FRAMES...]: the built program's browse on a pseudo-terminal. From its start to the first
/// screen drawn and to everything shown; from a key written to the last octet of what is drawn for it, while it reads and afterwards.
/// </summary>
internal static class TerminalCommand
{
    private const int QuietMs = 60, LongestMs = 120_000, LongestKeyMs = 2000, NothingToDrawMs = 500, FirstQuietMs = 15;
    private const int Tours = 3, Slowest = 3;
    private const double AimMs = 50;

    private const string Down = "\eOB", Right = "\eOC", Home = "\e[1~", End = "\e[4~", PageDown = "\e[6~", Enter = "\r", Esc = "\e";

    private static readonly string[] Tour =
    [
        "1", Down, End, Home, "n", "?", "?", "2", Right, "+", "+", "0", Down, "3", "a", PageDown, End, "g", Down, "g", "4", Down, "5", Down, "6", Down, "1", "n", Enter, Enter,
        Down, "1", "f", "l", "a", "m", "p", Enter, "o", "n", "2", "3", "u", Esc, Esc, "1",
    ];

    /// <summary>What is drawn only as the answer to each of these; until everything is read, every screen says what it waits for.</summary>
    private static readonly (string Key, string Words)[] WhileReading = [("2", "[2 Timelines]"), ("3", "[3 Hops]"), ("?", "Any key closes"), ("?", "Hops need the whole"), ("6", "[6 Network]"), ("1", "[1 Presses]")];

    public static int Run(string[] arguments)
    {
        var captures = new List<long>();
        var sizes = new List<(int Columns, int Lines)>();
        string program = Path.Combine(AppContext.BaseDirectory, "meshtrace.dll");
        int runs = 3;
        for (int i = 0; i < arguments.Length; i++)
        {
            if (arguments[i] == "--program" && i + 1 < arguments.Length)
                program = arguments[++i];
            else if (arguments[i] == "--runs" && i + 1 < arguments.Length)
                runs = int.Parse(arguments[++i], CultureInfo.InvariantCulture);
            else if (arguments[i] == "--size" && i + 1 < arguments.Length && arguments[++i].Split('x') is [var columns, var lines])
                sizes.Add((int.Parse(columns, CultureInfo.InvariantCulture), int.Parse(lines, CultureInfo.InvariantCulture)));
            else
                captures.Add(long.Parse(arguments[i], CultureInfo.InvariantCulture));
        }
        if (captures.Count == 0)
            captures = [10_000, 1_000_000];
        if (sizes.Count == 0)
            sizes = [(80, 24), (140, 40), (250, 70)];
        string[] started = program.EndsWith(".dll", StringComparison.Ordinal) ? ["dotnet", program] : [program];
        Console.WriteLine("| frames | terminal | first screen | everything shown | keys while reading: median, most | keys afterwards: median, 95 %, the slowest | above 50 ms | idle: octets, processor in 1 s | most memory | load |");
        Console.WriteLine("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
        foreach (long frames in captures)
        {
            using var load = new LoadFile(frames);
            foreach ((int columns, int lines) in sizes)
                Tell(frames, columns, lines, [.. Enumerable.Range(0, runs).Select(_ => Measure(columns, lines, [.. started, "browse", load.Capture, "--network", load.Network]))]);
        }
        return 0;
    }

    private static TerminalFigures Measure(int columns, int lines, string[] command)
    {
        using var terminal = new PseudoTerminal(columns, lines, command);
        long first = terminal.WaitForDrawn(terminal.Started, "Presses]", FirstQuietMs, LongestMs) ?? throw new InvalidOperationException("no screen was drawn");
        var reading = new List<KeyTime>();
        long? complete = null;
        for (int at = 0; complete is null; at = (at + 1) % WhileReading.Length)
        {
            long sent = terminal.Send(WhileReading[at].Key);
            long? answered = terminal.WaitForDrawn(sent, WhileReading[at].Words, QuietMs / 2, Shown(terminal) is null ? LongestKeyMs : NothingToDrawMs);
            complete = Shown(terminal);
            if (complete is null && answered is not null)       // unanswered: everything was read in between
                reading.Add(new KeyTime(WhileReading[at].Key, Milliseconds(sent, answered)));
        }
        terminal.Send("1");
        Thread.Sleep(500);
        TimeSpan processor = terminal.Processor;
        long octets = terminal.Octets;
        Thread.Sleep(1000);
        double idle = (terminal.Processor - processor).TotalMilliseconds;
        octets = terminal.Octets - octets;
        var keys = new List<KeyTime>();
        for (int tour = 0; tour < Tours; tour++)
        {
            foreach (string key in Tour)
            {
                Thread.Sleep(Random.Shared.Next(15));       // no key at the same moment of the program's looking for it
                long sent = terminal.Send(key);
                if (terminal.WaitForDrawn(sent, "", QuietMs, NothingToDrawMs) is { } answered)      // a key that changes nothing is not answered by drawing
                    keys.Add(new KeyTime(key, Milliseconds(sent, answered)));
            }
        }
        double peak = terminal.PeakMiB;
        terminal.Send("q");
        Thread.Sleep(300);
        return new TerminalFigures(Milliseconds(terminal.Started, first), Milliseconds(terminal.Started, complete), reading, keys, octets, idle, peak, PseudoTerminal.Load());
    }

    /// <summary>When the line was drawn that says so.</summary>
    private static long? Shown(PseudoTerminal terminal) => terminal.FirstDrawn(terminal.Started, "Everything is shown");

    private static double Milliseconds(long from, long? to) => to is { } known ? Stopwatch.GetElapsedTime(from, known).TotalMilliseconds : double.PositiveInfinity;

    private static void Tell(long frames, int columns, int lines, TerminalFigures[] runs)
    {
        KeyTime[] reading = [.. runs.SelectMany(run => run.WhileReading)], keys = [.. runs.SelectMany(run => run.Afterwards)];
        string while_ = reading.Length == 0 ? "none came in between" : $"{Ms(Part(reading, 0.5))}, {Ms(Part(reading, 1))} ({reading.Length})";
        string slow = string.Join(' ', keys.Where(key => key.Ms > AimMs).GroupBy(key => Name(key.Key)).Select(group => $"`{group.Key}` {group.Count()}x"));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"| {frames:N0} | {columns} x {lines} | {Ms(Middle(runs, run => run.FirstMs))} ({Ms(runs.Max(run => run.FirstMs))}) | {Ms(Middle(runs, run => run.CompleteMs))} ({Ms(runs.Max(run => run.CompleteMs))}) | {while_} | {Ms(Part(keys, 0.5))}, {Ms(Part(keys, 0.95))}, {string.Join(' ', keys.OrderByDescending(key => key.Ms).Take(Slowest).Select(key => $"`{Name(key.Key)}` {key.Ms:F0} ms"))} ({keys.Length}) | {(slow.Length > 0 ? slow : "none")} | {Middle(runs, run => run.IdleOctets):F0} B, {Middle(runs, run => run.IdleProcessorMs):F0} ms | {runs.Max(run => run.PeakMiB):F0} MiB | {runs.Max(run => run.Load):F1} |"));
    }

    private static string Ms(double value) => double.IsInfinity(value) ? "no answer" : value >= 1000 ? string.Create(CultureInfo.InvariantCulture, $"{value / 1000:F2} s") : string.Create(CultureInfo.InvariantCulture, $"{value:F0} ms");

    private static double Middle(TerminalFigures[] runs, Func<TerminalFigures, double> of) => runs.Select(of).Order().ElementAt(runs.Length / 2);

    private static double Part(KeyTime[] keys, double part) => keys.Select(key => key.Ms).Order().ElementAt((int)Math.Ceiling(part * keys.Length) - 1);

    private static string Name(string key) => key switch { Down => "Down", Right => "Right", Home => "Home", End => "End", PageDown => "PgDn", Enter => "Enter", Esc => "Esc", _ => key };
}

/// <summary>One key and how long its answer took.</summary>
/// <param name="Key">As sent.</param>
/// <param name="Ms">Until the last octet of what was drawn for it.</param>
internal readonly record struct KeyTime(string Key, double Ms);

/// <summary>One run of the program on the terminal.</summary>
internal sealed record TerminalFigures(double FirstMs, double CompleteMs, IReadOnlyList<KeyTime> WhileReading, IReadOnlyList<KeyTime> Afterwards, double IdleOctets, double IdleProcessorMs, double PeakMiB, double Load);
