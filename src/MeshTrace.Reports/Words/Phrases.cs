using System.Globalization;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Words;

/// <summary>Numbers, times and lists as a person says them.</summary>
internal static class Phrases
{
    private const long DaySeconds = 86_400;

    /// <summary>"1 frame", "48,210 frames".</summary>
    public static string Count(long count, string one, string? many = null) => $"{Number(count)} {(count == 1 ? one : many ?? one + "s")}";

    public static string Number(long value) => value.ToString("N0", CultureInfo.InvariantCulture);

    /// <summary>"2.1 %"; a share that is not nothing is never shown as 0, one that is not all never as 100.</summary>
    public static string Percent(double share)
    {
        double percent = share * 100;
        if (percent is > 0 and < 0.1)
            return "under 0.1 %";
        if (percent is > 99.9 and < 100)
            return "over 99.9 %";
        string format = percent < 10 && percent != Math.Round(percent) ? "0.0" : "0";
        string text = percent.ToString(format, CultureInfo.InvariantCulture);
        return (text == "100" && percent < 100 ? percent.ToString("0.0", CultureInfo.InvariantCulture) : text) + " %";
    }

    /// <summary>"140 ms", "2.4 s", "2 min 5 s", "3 h 2 min", "2 d 4 h".</summary>
    public static string Duration(double ms)
    {
        if (ms < 1000)
            return ms.ToString(ms < 10 ? "0.#" : "0", CultureInfo.InvariantCulture) + " ms";
        double seconds = ms / 1000;
        if (seconds < 60)
            return seconds.ToString(seconds < 10 ? "0.0" : "0", CultureInfo.InvariantCulture) + " s";
        long whole = (long)Math.Round(seconds);
        return whole switch
        {
            < 3600 => Two(whole / 60, "min", whole % 60, "s"),
            < 86400 => Two(whole / 3600, "h", whole % 3600 / 60, "min"),
            _ => Two(whole / 86400, "d", whole % 86400 / 3600, "h"),
        };
    }

    /// <summary>"2026-03-02", or null where there is no time.</summary>
    public static string? Day(long timeNs) => At(timeNs)?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    /// <summary>"18:00:00", or dashes where there is no time.</summary>
    public static string Clock(long timeNs) => timeNs == CapturedFrame.NoTime ? "--:--:--" : string.Create(8, (int)(SecondOf(timeNs) - (DayOf(timeNs) * DaySeconds)), static (clock, second) =>
    {
        Write(clock, second / 3600);
        clock[2] = clock[5] = ':';
        Write(clock[3..], second / 60 % 60);
        Write(clock[6..], second % 60);

        static void Write(Span<char> digits, int value) => (digits[0], digits[1]) = ((char)('0' + (value / 10)), (char)('0' + (value % 10)));
    });

    /// <summary>Days since 1970-01-01, or null where there is no time: equal for equal <see cref="Day"/>.</summary>
    public static long? DayNumber(long timeNs) => timeNs == CapturedFrame.NoTime ? null : DayOf(timeNs);

    /// <summary>"a, b and c"; beyond the limit "a, b and 3 more".</summary>
    public static string List(IReadOnlyList<string> items, int most = int.MaxValue)
    {
        if (items.Count > most)
            return string.Join(", ", items.Take(most - 1)) + $" and {Number(items.Count - most + 1)} more";
        return items.Count < 2 ? string.Concat(items) : string.Join(", ", items.Take(items.Count - 1)) + " and " + items[^1];
    }

    /// <summary>Runs of numbers: "0-3, 7".</summary>
    public static string Runs(uint bits)
    {
        var runs = new List<string>();
        for (int at = 0; at < 32; at++)
        {
            if (((bits >> at) & 1) == 0)
                continue;
            int first = at;
            while (at < 31 && ((bits >> (at + 1)) & 1) != 0)
                at++;
            runs.Add(first == at ? $"{first}" : $"{first}-{at}");
        }
        return string.Join(", ", runs);
    }

    private static DateTimeOffset? At(long timeNs) =>
        timeNs == CapturedFrame.NoTime ? null : DateTimeOffset.UnixEpoch.AddSeconds(SecondOf(timeNs));

    /// <summary>The second that a time falls into, from 1970-01-01 on: before it, the numbers are below 0.</summary>
    private static long SecondOf(long timeNs) => Below(timeNs, 1_000_000_000);

    private static long DayOf(long timeNs) => Below(SecondOf(timeNs), DaySeconds);

    /// <summary>A quotient rounded down.</summary>
    private static long Below(long value, long divisor) => (value / divisor) - (value % divisor < 0 ? 1 : 0);

    private static string Two(long first, string firstUnit, long second, string secondUnit) =>
        second == 0 ? $"{first} {firstUnit}" : $"{first} {firstUnit} {second} {secondUnit}";
}
