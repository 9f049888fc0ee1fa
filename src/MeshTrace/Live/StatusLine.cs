using System.Diagnostics;
using System.Diagnostics.CodeAnalysis;
using MeshTrace.Commands;
using MeshTrace.Reports.Words;

namespace MeshTrace.Live;

/// <summary>One line on standard error that tells how a run stands; only on a terminal, and never in the way of other lines.</summary>
/// <param name="surroundings">Whether there is a terminal.</param>
/// <param name="beforeFirst">Work that is done sooner shows none.</param>
internal sealed class StatusLine(Surroundings surroundings, TimeSpan beforeFirst = default) : IDisposable
{
    private const string EraseLine = "\r\e[K";
    private static readonly TimeSpan Between = TimeSpan.FromMilliseconds(200);

    [SuppressMessage("Usage", "CA2213", Justification = "Standard error belongs to the program.")]
    private readonly TextWriter? _terminal = surroundings is { ErrorIsTerminal: true, TerminalIsCapable: true } ? surroundings.Error : null;
    private readonly Stopwatch _clock = Stopwatch.StartNew();
    private TimeSpan _next = beforeFirst;
    private bool _shown;

    /// <summary>True where it would be seen now, which is five times a second at most; else there is no need to make its words.</summary>
    public bool IsDue => _terminal is not null && _clock.Elapsed >= _next;

    /// <summary>Shows it, if it is due.</summary>
    public void Show(string says)
    {
        if (!IsDue)
            return;
        _next = _clock.Elapsed + Between;
        _terminal!.Write(EraseLine + DisplayWidth.Cut(says, Math.Max(20, surroundings.Columns - 1)));
        _terminal.Flush();
        _shown = true;
    }

    /// <summary>Makes room for another line. It comes back at the next <see cref="Show"/>.</summary>
    public void Erase()
    {
        if (!_shown)
            return;
        _terminal!.Write(EraseLine);
        _terminal.Flush();
        _shown = false;
        _next = TimeSpan.Zero;
    }

    public void Dispose() => Erase();
}
