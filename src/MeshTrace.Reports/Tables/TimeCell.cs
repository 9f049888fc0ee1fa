namespace MeshTrace.Reports.Tables;

/// <summary>Reads the times of the records (<c>2026-03-02T18:00:00.123456000Z</c>) back.</summary>
internal static class TimeCell
{
    private const int Length = 30, DecimalsAt = 20, NsPerTick = 100;

    /// <summary>The time, in whole ticks of 100 ns.</summary>
    public static bool TryRead(ReadOnlySpan<byte> text, out DateTime time)
    {
        time = default;
        if (text.Length != Length || !TryDigits(text, 0, 4, out int year) || !TryDigits(text, 5, 2, out int month) || !TryDigits(text, 8, 2, out int day)
            || !TryDigits(text, 11, 2, out int hour) || !TryDigits(text, 14, 2, out int minute) || !TryDigits(text, 17, 2, out int second) || !TryDigits(text, DecimalsAt, 9, out int ns))
            return false;
        time = new DateTime(year, month, day, hour, minute, second, DateTimeKind.Utc).AddTicks(ns / NsPerTick);
        return true;
    }

    private static bool TryDigits(ReadOnlySpan<byte> text, int at, int count, out int value)
    {
        value = 0;
        for (int i = at; i < at + count; i++)
        {
            int digit = text[i] - '0';
            if (digit is < 0 or > 9)
                return false;
            value = (value * 10) + digit;
        }
        return true;
    }
}
