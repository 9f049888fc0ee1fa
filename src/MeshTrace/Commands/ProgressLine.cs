using System.Globalization;
using MeshTrace.Live;

namespace MeshTrace.Commands;

/// <summary>Tells on standard error how far long work has come; only on a terminal, at most five times a second, erased at the end.</summary>
internal sealed class ProgressLine(Surroundings surroundings) : IDisposable
{
    private static readonly TimeSpan BeforeFirst = TimeSpan.FromMilliseconds(400);

    private readonly StatusLine _line = new(surroundings, BeforeFirst);

    /// <summary>Tells the share done, or the amount where the whole is not known.</summary>
    public void Tell(string doing, long done, long? whole, string unit)
    {
        if (!_line.IsDue)
            return;
        string amount = whole is > 0 and var all
            ? Math.Clamp(done * 100.0 / all, 0, 100).ToString("0", CultureInfo.InvariantCulture) + " %"
            : done.ToString("N0", CultureInfo.InvariantCulture) + " " + unit;
        _line.Show($"{doing}: {amount}");
    }

    public void Dispose() => _line.Dispose();
}
