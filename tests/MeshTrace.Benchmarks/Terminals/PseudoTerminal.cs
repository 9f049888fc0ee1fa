using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using System.Text;
using Microsoft.Win32.SafeHandles;

namespace MeshTrace.Benchmarks.Terminals;

/// <summary>
/// A program on a pseudo-terminal of its own (Linux), and this process as the terminal: it answers what terminals are asked, and notes when each piece of
/// what is drawn came. It waits in <c>read</c>, so it adds no time of looking now and then.
/// </summary>
internal sealed class PseudoTerminal : IDisposable
{
    private const int ReadWrite = 2, NotControlling = 0x100;        // O_RDWR, O_NOCTTY
    private const uint SetWindowSize = 0x5414;                      // TIOCSWINSZ
    private const int LongestName = 64;

    private readonly FileStream _master;
    private readonly Process _program;
    private readonly Thread _reader;
    private readonly Lock _lock = new();
    private readonly List<(long Ticks, string Text)> _drawn = [];
    private readonly StringBuilder _rest = new();
    private readonly Decoder _decoder = Encoding.UTF8.GetDecoder();

    /// <param name="columns">Width.</param>
    /// <param name="lines">Height.</param>
    /// <param name="command">Program and arguments.</param>
    /// <exception cref="InvalidOperationException">This system gives no pseudo-terminal.</exception>
    public PseudoTerminal(int columns, int lines, IReadOnlyList<string> command)
    {
        int master = Open(ReadWrite | NotControlling);
        byte[] name = new byte[LongestName];
        var size = new WindowSize { Lines = (ushort)lines, Columns = (ushort)columns };
        if (master < 0 || Grant(master) != 0 || Unlock(master) != 0 || NameOf(master, name, LongestName) != 0 || Control(master, SetWindowSize, ref size) != 0)
            throw new InvalidOperationException("no pseudo-terminal is to be had here");
        _master = new FileStream(new SafeFileHandle(master, ownsHandle: true), FileAccess.ReadWrite, bufferSize: 0);
        string path = Encoding.ASCII.GetString(name.AsSpan(0, name.AsSpan().IndexOf((byte)0)));
        // setsid makes the terminal the controlling one; both replace themselves, so the process is the program in the end.
        var start = new ProcessStartInfo("/bin/sh");
        foreach (string argument in (string[])["-c", "exec setsid --ctty \"$@\" <\"$0\" >\"$0\" 2>&1", path, .. command])
            start.ArgumentList.Add(argument);
        start.Environment["TERM"] = "xterm-256color";
        start.Environment.Remove("NO_COLOR");
        Started = Stopwatch.GetTimestamp();
        _program = Process.Start(start)!;
        _reader = new Thread(ReadOn) { IsBackground = true, Priority = ThreadPriority.Highest };
        _reader.Start();
    }

    /// <summary>When the program was started.</summary>
    public long Started { get; }

    /// <summary>What the program has used until now.</summary>
    public TimeSpan Processor
    {
        get
        {
            _program.Refresh();
            return _program.TotalProcessorTime;
        }
    }

    /// <summary>The most memory that it ever had.</summary>
    public double PeakMiB
    {
        get
        {
            _program.Refresh();
            return _program.PeakWorkingSet64 / 1048576.0;
        }
    }

    /// <summary>All that was sent to the terminal, in octets.</summary>
    public long Octets { get; private set; }

    /// <summary>Presses a key.</summary>
    /// <returns>When it went to the program.</returns>
    public long Send(string key)
    {
        long ticks = Stopwatch.GetTimestamp();
        _master.Write(Encoding.UTF8.GetBytes(key));
        return ticks;
    }

    /// <summary>What was drawn since a moment; cursor movements alone are not among it.</summary>
    public IReadOnlyList<(long Ticks, string Text)> DrawnSince(long ticks)
    {
        lock (_lock)
        {
            int first = _drawn.Count;
            while (first > 0 && _drawn[first - 1].Ticks >= ticks)
                first--;
            return _drawn[first..];
        }
    }

    /// <summary>When some words were drawn first since a moment, or null.</summary>
    public long? FirstDrawn(long since, string words)
    {
        IReadOnlyList<(long Ticks, string Text)> drawn = DrawnSince(since);
        return Found(drawn, words) is >= 0 and var at ? drawn[at].Ticks : null;
    }

    /// <summary>Waits until some words were drawn since a moment, and then until nothing more is drawn for so long.</summary>
    /// <param name="since">The moment.</param>
    /// <param name="words">The words; empty: anything.</param>
    /// <param name="quietMs">So long nothing must be drawn.</param>
    /// <param name="longestMs">Gives up after so long.</param>
    /// <returns>When the last piece came, or null where the words did not come. The quiet time is not part of it.</returns>
    public long? WaitForDrawn(long since, string words, int quietMs, int longestMs)
    {
        while (Stopwatch.GetElapsedTime(since).TotalMilliseconds < longestMs)
        {
            Thread.Sleep(2);        // only until the answer is looked at: when it came, the reader noted
            IReadOnlyList<(long Ticks, string Text)> drawn = DrawnSince(since);
            int found = Found(drawn, words);
            if (found < 0)
                continue;
            int last = found;
            while (last + 1 < drawn.Count && Stopwatch.GetElapsedTime(drawn[last].Ticks, drawn[last + 1].Ticks).TotalMilliseconds < quietMs)
                last++;
            if (last + 1 < drawn.Count || Stopwatch.GetElapsedTime(drawn[last].Ticks).TotalMilliseconds >= quietMs)
                return drawn[last].Ticks;
        }
        return null;
    }

    public void Dispose()
    {
        if (!_program.HasExited)
            _program.Kill();
        _program.WaitForExit();
        _master.Dispose();
        _program.Dispose();
    }

    private static int Found(IReadOnlyList<(long Ticks, string Text)> drawn, string words)
    {
        var text = new StringBuilder();
        for (int at = 0; at < drawn.Count; at++)
        {
            text.Append(drawn[at].Text);
            if (text.ToString().Contains(words, StringComparison.Ordinal))
                return at;
        }
        return -1;
    }

    private void ReadOn()
    {
        byte[] octets = new byte[65536];
        char[] letters = new char[65536];
        while (true)
        {
            int count;
            try
            {
                count = _master.Read(octets);
            }
            catch (Exception end) when (end is IOException or ObjectDisposedException)
            {
                return;     // EIO: the program has gone
            }
            if (count == 0)
                return;
            long ticks = Stopwatch.GetTimestamp();
            Octets += count;
            _rest.Append(letters, 0, _decoder.GetChars(octets, 0, count, letters, 0));
            Take(ticks);
        }
    }

    /// <summary>Answers questions, leaves escape sequences out, and keeps what is drawn.</summary>
    private void Take(long ticks)
    {
        string all = _rest.ToString();
        var drawn = new StringBuilder();
        int at = 0;
        while (at < all.Length)
        {
            if (all[at] != '\e')
            {
                drawn.Append(all[at++]);
                continue;
            }
            if (Sequence(all, at) is not { } end)
                break;      // its end has not come yet
            Answer(all[at..end]);
            at = end;
        }
        _rest.Clear().Append(all, at, all.Length - at);
        if (drawn.Length == 0)
            return;
        lock (_lock)
            _drawn.Add((ticks, drawn.ToString()));
    }

    /// <summary>Where an escape sequence ends (ECMA-48 §5.4 control sequences, §5.6 control strings), or null.</summary>
    private static int? Sequence(string text, int at)
    {
        if (at + 1 >= text.Length)
            return null;
        if (text[at + 1] is '[')
        {
            for (int i = at + 2; i < text.Length; i++)
                if (text[i] is >= '@' and <= '~')
                    return i + 1;
            return null;
        }
        if (text[at + 1] is not (']' or '_' or 'P'))
            return at + 2;
        for (int i = at + 2; i < text.Length; i++)
        {
            if (text[i] == '\a')
                return i + 1;
            if (text[i] == '\\' && text[i - 1] == '\e')
                return i + 1;
        }
        return null;
    }

    /// <summary>As a terminal with nothing special answers (ECMA-48 §8.3.14 CPR, §8.3.24 DA; xterm control sequences for the colours).</summary>
    private void Answer(string sequence)
    {
        string? answer = sequence switch
        {
            "\e[6n" => "\e[1;1R",
            "\e[c" or "\e[0c" => "\e[?62;22c",
            "\e]10;?\e\\" => "\e]10;rgb:0000/0000/0000\e\\",
            "\e]11;?\e\\" => "\e]11;rgb:ffff/ffff/ffff\e\\",
            _ => null,
        };
        if (answer is not null)
            _master.Write(Encoding.ASCII.GetBytes(answer));
    }

    /// <summary>Load of the machine: processes that ran or waited for a processor in the last minute.</summary>
    public static double Load() => double.Parse(File.ReadAllText("/proc/loadavg").Split(' ')[0], CultureInfo.InvariantCulture);

    [StructLayout(LayoutKind.Sequential)]
    private struct WindowSize
    {
        public ushort Lines, Columns, PixelsAcross, PixelsDown;
    }

    [DllImport("libc", EntryPoint = "posix_openpt", SetLastError = true), DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Open(int flags);

    [DllImport("libc", EntryPoint = "grantpt", SetLastError = true), DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Grant(int file);

    [DllImport("libc", EntryPoint = "unlockpt", SetLastError = true), DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Unlock(int file);

    [DllImport("libc", EntryPoint = "ptsname_r", SetLastError = true), DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int NameOf(int file, byte[] name, nint length);

    [DllImport("libc", EntryPoint = "ioctl", SetLastError = true), DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Control(int file, nuint request, ref WindowSize size);
}
