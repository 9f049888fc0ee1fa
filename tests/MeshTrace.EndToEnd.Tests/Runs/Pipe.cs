using System.Diagnostics;

namespace MeshTrace.EndToEnd.Tests.Runs;

/// <summary>Named pipes, as receivers write to.</summary>
internal static class Pipe
{
    /// <summary>True where the system has named pipes that look like files.</summary>
    public static bool Exists => !OperatingSystem.IsWindows();

    public static string Make(string path)
    {
        using Process process = Process.Start("mkfifo", [path]);
        process.WaitForExit();
        Assert.Equal(0, process.ExitCode);
        return path;
    }

    /// <summary>Opens it for writing, which waits for the reader.</summary>
    public static FileStream Open(string path) => new(path, FileMode.Open, FileAccess.Write, FileShare.ReadWrite, bufferSize: 0);

    /// <summary>Sends a signal to a process.</summary>
    public static void Signal(Process process, string signal)
    {
        using Process kill = Process.Start("kill", ["-" + signal, process.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
        kill.WaitForExit();
        Assert.Equal(0, kill.ExitCode);
    }
}
