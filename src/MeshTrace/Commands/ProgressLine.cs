using System.Diagnostics;
using System.Globalization;

namespace MeshTrace.Commands;

/// <summary>One line on standard error that tells how far long work has come; only on a terminal, at most five times a second, erased at the end.</summary>
internal sealed class ProgressLine : IDisposable
{
    private const string EraseLine = "\r\e[K";
    private static readonly TimeSpan BeforeFirst = TimeSpan.FromMilliseconds(400), Between = TimeSpan.FromMilliseconds(200);

    private readonly TextWriter? _terminal;
    private readonly Stopwatch _clock = Stopwatch.StartNew();
    private TimeSpan _next = BeforeFirst;
    private bool _shown;

    public ProgressLine(Surroundings surroundings) =>
        _terminal = surroundings is { ErrorIsTerminal: true, TerminalIsCapable: true } ? surroundings.Error : null;

    /// <summary>Tells the share done, or the amount where the whole is not known.</summary>
    public void Tell(string doing, long done, long? whole, string unit)
    {
        if (_terminal is null || _clock.Elapsed < _next)
            return;
        _next = _clock.Elapsed + Between;
        _shown = true;
        string amount = whole is > 0 and var all
            ? Math.Clamp(done * 100.0 / all, 0, 100).ToString("0", CultureInfo.InvariantCulture) + " %"
            : done.ToString("N0", CultureInfo.InvariantCulture) + " " + unit;
        _terminal.Write($"{EraseLine}{doing}: {amount}");
        _terminal.Flush();
    }

    public void Dispose()
    {
        if (!_shown)
            return;
        _terminal!.Write(EraseLine);
        _terminal.Flush();
        _shown = false;
    }
}
