using System.Text;
using Microsoft.Win32.SafeHandles;

namespace MeshTrace.Commands;

/// <summary>Where the program runs: its streams, what they are, and the environment. Tests give their own.</summary>
public sealed class Surroundings
{
    private const int OutputHandle = 1, BufferOctets = 1 << 16, UsualColumns = 80;

    /// <summary>Standard output as octets.</summary>
    public required Stream Output { get; init; }

    /// <summary>Standard error.</summary>
    public required TextWriter Error { get; init; }
    public bool OutputIsTerminal { get; init; }

    /// <summary>Standard input brings keys.</summary>
    public bool InputIsTerminal { get; init; }
    public bool ErrorIsTerminal { get; init; }

    /// <summary>Columns of the terminal.</summary>
    public int Columns { get; init; } = UsualColumns;

    /// <summary>Looks up an environment variable.</summary>
    public Func<string, string?> Environment { get; init; } = _ => null;

    /// <summary>True where the terminal can move its cursor and show colours.</summary>
    public bool TerminalIsCapable => Environment("TERM") != "dumb";

    /// <summary>The surroundings of this process.</summary>
    public static Surroundings OfProcess() => new()
    {
        Output = OpenOutput(),
        Error = new StreamWriter(Console.OpenStandardError(), new UTF8Encoding(false)) { AutoFlush = true },
        OutputIsTerminal = !Console.IsOutputRedirected,
        InputIsTerminal = !Console.IsInputRedirected,
        ErrorIsTerminal = !Console.IsErrorRedirected,
        Columns = TerminalColumns(),
        Environment = System.Environment.GetEnvironmentVariable,
    };

    /// <summary>
    /// The console's own stream swallows a closed pipe and would let the program work on for nobody; a plain handle reports it. A regular file
    /// keeps the console's stream, which writes where other programs left off.
    /// </summary>
    private static Stream OpenOutput()
    {
        if (Console.IsOutputRedirected && !OperatingSystem.IsWindows())
        {
#pragma warning disable CA2000 // standard output is closed by the end of the process
            var pipe = new FileStream(new SafeFileHandle(OutputHandle, ownsHandle: false), FileAccess.Write, BufferOctets);
#pragma warning restore CA2000
            if (!pipe.CanSeek)
                return pipe;
        }
        return new BufferedStream(Console.OpenStandardOutput(), BufferOctets);
    }

    private static int TerminalColumns()
    {
        if (Console.IsOutputRedirected)
            return UsualColumns;
        try
        {
            return Console.WindowWidth is > 0 and var columns ? columns : UsualColumns;
        }
        catch (IOException)     // a terminal that does not tell its size
        {
            return UsualColumns;
        }
    }
}
