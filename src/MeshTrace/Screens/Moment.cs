using System.Globalization;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>Times as the screens show and read them, UTC.</summary>
internal static class Moment
{
    private const long NsPerDay = 86_400_000_000_000, NsPerSecond = 1_000_000_000;

    /// <summary>"18:47:02.113"</summary>
    public static string Milli(long timeNs) => timeNs == CapturedFrame.NoTime ? "--:--:--.---"
        : string.Create(CultureInfo.InvariantCulture, $"{Phrases.Clock(timeNs)}.{NsOf(timeNs) / 1_000_000:000}");

    /// <summary>"18:47:02.113456": microseconds, as most receivers have them.</summary>
    public static string Micro(long timeNs) => timeNs == CapturedFrame.NoTime ? "--:--:--.------"
        : string.Create(CultureInfo.InvariantCulture, $"{Phrases.Clock(timeNs)}.{NsOf(timeNs) / 1000:000000}");

    /// <summary>Milliseconds from one time to another, "+12.3 ms" or "+2.41 s"; empty where one is not known.</summary>
    public static string After(long fromNs, long toNs)
    {
        if (fromNs == CapturedFrame.NoTime || toNs == CapturedFrame.NoTime)
            return "";
        double ms = (double)((Int128)toNs - fromNs) / 1e6;
        string sign = ms < 0 ? "-" : "+";
        double size = Math.Abs(ms);
        return sign + size switch
        {
            < 1000 => size.ToString("0.0", CultureInfo.InvariantCulture) + " ms",
            < 60_000 => (size / 1000).ToString("0.00", CultureInfo.InvariantCulture) + " s",
            _ => Phrases.Duration(size),
        };
    }

    /// <summary>
    /// Reads "18:40-19:00" or "18:47:02" (then half a minute to either side), on the day of the capture or, past midnight, the next that lies in it.
    /// </summary>
    public static bool TryRange(string text, (long First, long Last) span, out (long From, long To) range)
    {
        range = default;
        string[] parts = text.Split(['-', '–'], 2, StringSplitOptions.TrimEntries);
        if (!TryClock(parts[0], span, out long from))
            return false;
        if (parts.Length == 1)
        {
            range = (from - (30 * NsPerSecond), from + (30 * NsPerSecond));
            return true;
        }
        if (!TryClock(parts[1], span, out long to))
            return false;
        if (to < from)
            to += NsPerDay;
        range = (from, to);
        return true;
    }

    private static bool TryClock(string text, (long First, long Last) span, out long timeNs)
    {
        timeNs = 0;
        string[] forms = ["h\\:mm", "h\\:mm\\:ss", "h\\:mm\\:ss\\.FFFFFFF"];
        if (!TimeSpan.TryParseExact(text, forms, CultureInfo.InvariantCulture, out TimeSpan clock))
            return false;
        long day = span.First - PositiveModulo(span.First, NsPerDay);
        timeNs = day + (clock.Ticks * 100);
        if (timeNs < span.First - NsPerSecond && timeNs + NsPerDay <= span.Last)
            timeNs += NsPerDay;
        return true;
    }

    private static long NsOf(long timeNs) => PositiveModulo(timeNs, NsPerSecond);

    private static long PositiveModulo(long value, long modulus) => ((value % modulus) + modulus) % modulus;
}
