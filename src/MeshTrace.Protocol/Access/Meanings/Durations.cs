using System.Globalization;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>Times in words: <c>50 ms</c>, <c>2.0 s</c>, <c>1 min 30 s</c>, <c>10 h 20 min</c>, <c>10 days</c>.</summary>
internal static class Durations
{
    private const double Second = 1000, Minute = 60 * Second, Hour = 60 * Minute, Day = 24 * Hour;

    /// <summary>Milliseconds in a unit of time; null for other units.</summary>
    public static double? MillisecondsIn(string unit) => unit switch
    {
        "ms" => 1,
        "s" => Second,
        "min" => Minute,
        "h" => Hour,
        "days" => Day,
        _ => null,
    };

    public static string Say(double ms)
    {
        if (ms < Second)
            return string.Create(CultureInfo.InvariantCulture, $"{ms:0.###} ms");
        if (ms < Minute)
            return string.Create(CultureInfo.InvariantCulture, $"{ms / Second:0.0##} s");
        if (ms >= 2 * Day)
            return Two(ms, Day, "days", Hour, "h");
        return ms >= Hour ? Two(ms, Hour, "h", Minute, "min") : Two(ms, Minute, "min", Second, "s");
    }

    private static string Two(double ms, double large, string largeUnit, double small, string smallUnit)
    {
        double smalls = Math.Round(ms / small);
        double whole = Math.Floor(smalls * small / large);
        double rest = smalls - (whole * (large / small));
        return rest > 0
            ? string.Create(CultureInfo.InvariantCulture, $"{whole:0} {largeUnit} {rest:0} {smallUnit}")
            : string.Create(CultureInfo.InvariantCulture, $"{whole:0} {largeUnit}");
    }
}
