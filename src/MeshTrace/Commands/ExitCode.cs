namespace MeshTrace.Commands;

/// <summary>What the program tells the shell. Documented in docs/exit-codes.md: change both.</summary>
public static class ExitCode
{
    /// <summary>All well.</summary>
    public const int Fine = 0;

    /// <summary>A fault of the program itself.</summary>
    public const int Internal = 1;

    /// <summary>The command line cannot be understood, or a key on it is not one.</summary>
    public const int Usage = 2;

    /// <summary>An input file cannot be opened, or is not what it should be.</summary>
    public const int Unreadable = 3;

    /// <summary>The capture was read, but no mesh traffic in it, or none that the keys open.</summary>
    public const int NothingDecoded = 4;

    /// <summary>The capture is damaged; what stands before the damage was analysed and shown.</summary>
    public const int Damaged = 5;

    /// <summary>The result could not be written.</summary>
    public const int Unwritable = 6;

    /// <summary>Of several captures, some could not be analysed; all others were.</summary>
    public const int SomeFailed = 7;

    /// <summary>Stopped by Ctrl-C (128 + the number of SIGINT, as shells count).</summary>
    public const int Interrupted = 130;
}
