using System.Diagnostics;
using System.Globalization;

namespace MeshTrace.EndToEnd.Tests.Screens;

/// <summary>A terminal of its own for one run of the built program.</summary>
internal sealed class Tmux : IDisposable
{
    private const int LongestWaitMs = 60_000, BetweenLooksMs = 100;

    private readonly string _socket = "meshtrace-" + Guid.NewGuid().ToString("N");

    public Tmux(int columns, int lines, string environment, params string[] arguments)
    {
        string program = string.Join(' ', Runs.Program.Command.Concat(arguments).Select(argument => $"'{argument}'"));
        const string Echo = "stty -a | grep -q -- ' -echo ' && echo echo is off || echo echo is on";
        // The shell has jobs, so that the program can be suspended, and stays, so that what it leaves behind can be looked at.
        Run("-f", "/dev/null", "new-session", "-d", "-x", $"{columns}", "-y", $"{lines}",
            $"set -m; {environment} {program}; code=$?; while jobs | grep -q Stopped; do echo suspended; {Echo}; read -r line; fg; code=$?; done; echo ended with $code; {Echo}; exec cat");
    }

    public static bool IsInstalled
    {
        get
        {
            try
            {
                using Process process = Process.Start(new ProcessStartInfo("tmux", "-V") { RedirectStandardOutput = true, RedirectStandardError = true })!;
                process.WaitForExit();
                return process.ExitCode == 0;
            }
            catch (System.ComponentModel.Win32Exception)
            {
                return false;
            }
        }
    }

    public void Press(params string[] keys)
    {
        foreach (string key in keys)
            Run("send-keys", key);
    }

    /// <summary>Makes the terminal's window another size.</summary>
    public void Resize(int columns, int lines) => Run("resize-window", "-x", $"{columns}", "-y", $"{lines}");

    /// <summary>What stands on the terminal now.</summary>
    public string Text() => Run("capture-pane", "-p");

    /// <summary>With the colours as escape sequences.</summary>
    public string TextWithColours() => Run("capture-pane", "-p", "-e");

    /// <summary>Waits until something stands on the terminal.</summary>
    public string WaitFor(string words)
    {
        var clock = Stopwatch.StartNew();
        while (true)
        {
            string text = Text();
            if (text.Contains(words, StringComparison.Ordinal))
                return text;
            if (clock.ElapsedMilliseconds > LongestWaitMs)
                throw new TimeoutException($"'{words}' did not appear:\n{text}");
            Thread.Sleep(BetweenLooksMs);
        }
    }

    /// <summary>Sends a signal to the program in the terminal.</summary>
    public void Signal(string name) => Execute("kill", $"-{name}", $"{ProgramId()}");

    /// <summary>Process number of the program: the only child of the terminal's shell.</summary>
    public int ProgramId() => int.Parse(Execute("ps", "-o", "pid=", "--ppid", Run("list-panes", "-F", "#{pane_pid}").Trim()), NumberStyles.AllowLeadingWhite | NumberStyles.AllowTrailingWhite, CultureInfo.InvariantCulture);

    public void Dispose() => Run("kill-server");

    private string Run(params string[] arguments) => Execute("tmux", ["-L", _socket, .. arguments]);

    private static string Execute(string program, params string[] arguments)
    {
        var start = new ProcessStartInfo(program) { RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (string argument in arguments)
            start.ArgumentList.Add(argument);
        start.Environment["LC_ALL"] = "C.UTF-8";
        using Process process = Process.Start(start)!;
        string output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return output;
    }
}
