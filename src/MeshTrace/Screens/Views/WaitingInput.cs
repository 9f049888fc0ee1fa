using System.Runtime.InteropServices;
using System.Text;
using Terminal.Gui.Drivers;

namespace MeshTrace.Screens.Views;

/// <summary>
/// What is typed, handed on the moment it comes. The library's own input looks every 20 ms whether there is something; on Unix this one waits in
/// <c>poll</c> (POSIX.1-2017, XSH), which costs nothing while nobody types. Elsewhere the library's is used as it is. The terminal is in raw mode from
/// the constructor to <c>Dispose</c>; <c>Run</c> belongs on a thread of its own.
/// </summary>
/// <param name="arrived">Called on that thread, after what came was put into the queue, and when the terminal was taken away.</param>
internal sealed class WaitingInput(Action arrived) : AnsiInput
{
    /// <summary>How long the thread may go on after <see cref="Stop"/>.</summary>
    private const int LongestWaitMs = 1000;

    private const int StandardInput = 0, LongestRead = 4096;
    private const short Readable = 1;       // POLLIN
    private const int Interrupted = 4;      // EINTR, the same number on Linux, macOS and the BSDs

    private readonly byte[] _octets = new byte[LongestRead];
    private readonly char[] _letters = new char[LongestRead];
    private readonly Decoder _decoder = Encoding.UTF8.GetDecoder();     // a letter may come in two parts
    private volatile bool _stopped, _ended;

    /// <summary>True once there is no terminal any more that anything could come from.</summary>
    public bool HasEnded => _ended;

    /// <summary>Takes nothing from the terminal from now on: the next words typed are for whoever comes after.</summary>
    public void Stop() => _stopped = true;

    /// <summary>Waits until there is something to read. False only after <see cref="Stop"/>, and where the library looks instead of waiting.</summary>
    public override bool Peek()
    {
        if (OperatingSystem.IsWindows())
            return !_stopped && base.Peek();
        var terminal = new PollFile { File = StandardInput, Events = Readable };
        while (!_stopped)
        {
            int ready = Poll(ref terminal, 1, LongestWaitMs);
            if (_stopped)
                break;
            if (ready > 0)
                return true;        // or it was hung up, which reading will tell
            if (ready < 0 && Marshal.GetLastPInvokeError() != Interrupted)
                End();
        }
        return false;
    }

    /// <inheritdoc />
    public override IEnumerable<char> Read()
    {
        if (OperatingSystem.IsWindows())
        {
            foreach (char letter in base.Read())
                yield return letter;
        }
        else
        {
            int letters = ReadLetters();
            for (int at = 0; at < letters; at++)
                yield return _letters[at];
        }
        arrived();
    }

    private int ReadLetters()
    {
        nint count = ReadFile(StandardInput, _octets, LongestRead);
        if (count > 0)
            return _decoder.GetChars(_octets, 0, (int)count, _letters, 0);
        if (count == 0 || Marshal.GetLastPInvokeError() != Interrupted)
            End();
        return 0;
    }

    private void End()
    {
        _ended = _stopped = true;
        arrived();
    }

    /// <summary><c>struct pollfd</c>.</summary>
    [StructLayout(LayoutKind.Sequential)]
    private struct PollFile
    {
        public int File;
        public short Events, Happened;
    }

    [DllImport("libc", EntryPoint = "poll", SetLastError = true), DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Poll(ref PollFile files, nuint count, int timeoutMs);

    [DllImport("libc", EntryPoint = "read", SetLastError = true), DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern nint ReadFile(int file, byte[] octets, nuint count);
}
