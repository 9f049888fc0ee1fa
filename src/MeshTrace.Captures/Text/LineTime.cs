namespace MeshTrace.Captures.Text;

/// <summary>How a log line tells its time.</summary>
internal enum LineTimeForm : byte
{
    None,

    /// <summary>Date and time of day.</summary>
    Date,

    /// <summary>Time of day alone.</summary>
    Clock,

    /// <summary>Since some start.</summary>
    Elapsed,
}

/// <summary>Finds the time at the beginning of a log line: ISO 8601, a clock time, seconds with decimals, or milliseconds.</summary>
internal static class LineTime
{
    private const long NsASecond = 1_000_000_000, NsADay = 86_400 * NsASecond;

    /// <summary>Octets in front of the time: brackets, a number of the line, a month and day without year.</summary>
    private const int FarthestStart = 12;

    /// <summary>Digits from which on a bare integer is taken for milliseconds: shorter ones number the lines.</summary>
    private const int LeastDigits = 5, MostDigits = 15;

    /// <param name="line">The line.</param>
    /// <param name="timeNs">Since 1970-01-01 UTC, since midnight, or since the start.</param>
    /// <param name="end">Where the rest of the line begins.</param>
    public static LineTimeForm Find(ReadOnlySpan<byte> line, out long timeNs, out int end)
    {
        timeNs = 0;
        end = 0;
        for (int at = 0; at < line.Length && at <= FarthestStart; at++)
        {
            if (!IsDigit(line[at]) || (at > 0 && (IsDigit(line[at - 1]) || IsLetter(line[at - 1]))))
                continue;
            if (TryDate(line[at..], out timeNs, out int length))
                return Ends(at, length, LineTimeForm.Date, out end);
            if (TryClock(line[at..], out timeNs, out length))
                return Ends(at, length, LineTimeForm.Clock, out end);
        }
        if (TryTagged(line, out timeNs, out int tagged))
            return Ends(0, tagged, LineTimeForm.Elapsed, out end);
        int start = 0;
        while (start < line.Length && start <= FarthestStart && line[start] is (byte)' ' or (byte)'[' or (byte)'(' or (byte)'<' or (byte)'\t')
            start++;
        return TryElapsed(line[start..], out timeNs, out int taken) ? Ends(start, taken, LineTimeForm.Elapsed, out end) : LineTimeForm.None;
    }

    private static LineTimeForm Ends(int at, int length, LineTimeForm form, out int end)
    {
        end = at + length;
        return form;
    }

    private static bool TryDate(ReadOnlySpan<byte> text, out long timeNs, out int length)
    {
        timeNs = length = 0;
        if (text.Length < 19 || !Number(text, 0, 4, out int year) || text[4] is not ((byte)'-' or (byte)'/') || !Number(text, 5, 2, out int month) || text[7] != text[4]
            || !Number(text, 8, 2, out int day) || text[10] is not ((byte)'T' or (byte)' ') || !TryClock(text[11..], out long ofDay, out int clock)
            || year is < 1971 or > 2200 || month is < 1 or > 12 || day < 1 || day > DateTime.DaysInMonth(year, month))
            return false;
        length = 11 + clock;
        timeNs = ((new DateTime(year, month, day, 0, 0, 0, DateTimeKind.Utc) - DateTime.UnixEpoch).Ticks * 100) + ofDay;
        ReadOnlySpan<byte> zone = text[length..];
        if (zone is [(byte)'Z', ..])
            length++;
        else if (zone.Length >= 5 && zone[0] is (byte)'+' or (byte)'-' && Number(zone, 1, 2, out int hours))
        {
            int colon = zone[3] == (byte)':' ? 1 : 0;
            if (zone.Length >= 5 + colon && Number(zone, 3 + colon, 2, out int minutes))
            {
                timeNs -= (zone[0] == (byte)'-' ? -1 : 1) * ((hours * 60) + minutes) * 60 * NsASecond;
                length += 5 + colon;
            }
        }
        return true;
    }

    /// <summary>HH:mm:ss with a fraction behind a point or comma.</summary>
    private static bool TryClock(ReadOnlySpan<byte> text, out long timeNs, out int length)
    {
        timeNs = length = 0;
        if (text.Length < 8 || !Number(text, 0, 2, out int hours) || text[2] != (byte)':' || !Number(text, 3, 2, out int minutes) || text[5] != (byte)':' || !Number(text, 6, 2, out int seconds)
            || hours > 23 || minutes > 59 || seconds > 60)
            return false;
        length = 8;
        timeNs = ((((hours * 60L) + minutes) * 60) + seconds) * NsASecond;
        if (length + 1 < text.Length && text[length] is (byte)'.' or (byte)',' && IsDigit(text[length + 1]))
        {
            int fraction = length + 1;
            timeNs += Fraction(text, ref length);
            // Milliseconds, a comma, and three digits of microseconds.
            if (length - fraction == 3 && text.Length > length + 3 && text[length] == (byte)',' && Number(text, length + 1, 3, out int micros))
                (timeNs, length) = (timeNs + (micros * 1000L), length + 4);
        }
        // Six pairs between colons are a device address, not a time.
        return length >= text.Length || text[length] != (byte)':';
    }

    /// <summary>A letter for the level, and milliseconds in brackets: "I (12345) ...".</summary>
    private static bool TryTagged(ReadOnlySpan<byte> text, out long timeNs, out int length)
    {
        (timeNs, length) = (0, 3);
        if (text is not [(byte)'E' or (byte)'W' or (byte)'I' or (byte)'D' or (byte)'V', (byte)' ', (byte)'(', var first, ..] || !IsDigit(first))
            return false;
        long ms = 0;
        for (; length < text.Length && length < 3 + MostDigits && IsDigit(text[length]); length++)
            ms = (ms * 10) + (text[length] - '0');
        if (length >= text.Length || text[length++] != (byte)')' || ms > long.MaxValue / 1_000_000 / 2)
            return false;
        timeNs = ms * 1_000_000;
        return true;
    }

    private static bool TryElapsed(ReadOnlySpan<byte> text, out long timeNs, out int length)
    {
        timeNs = length = 0;
        long whole = 0;
        while (length < text.Length && IsDigit(text[length]))
        {
            if (length >= MostDigits)
                return false;
            whole = (whole * 10) + (text[length++] - '0');
        }
        if (length == 0)
            return false;
        int digits = length;
        if (length + 1 < text.Length && text[length] == (byte)'.' && IsDigit(text[length + 1]))
        {
            if (whole > long.MaxValue / NsASecond / 2)
                return false;
            timeNs = (whole * NsASecond) + Fraction(text, ref length);
            return length >= text.Length || !IsLetter(text[length]) || text[length] == (byte)'s';
        }
        ReadOnlySpan<byte> unit = text[length..];
        bool ms = unit.StartsWith("ms"u8) || unit.StartsWith(" ms"u8);
        if ((!ms && (digits < LeastDigits || (unit.Length > 0 && (IsLetter(unit[0]) || unit[0] == (byte)'-')))) || whole > long.MaxValue / 1_000_000 / 2)
            return false;
        timeNs = whole * 1_000_000;
        length += ms ? unit[0] == (byte)' ' ? 3 : 2 : 0;
        return true;
    }

    /// <summary>Nanoseconds of the digits behind a point, and passes over them.</summary>
    private static long Fraction(ReadOnlySpan<byte> text, ref int at)
    {
        long ns = 0, unit = NsASecond / 10;
        for (at++; at < text.Length && IsDigit(text[at]); at++, unit /= 10)
            ns += (text[at] - '0') * unit;
        return ns;
    }

    /// <summary>Times of day that go back by more than half a day have passed midnight.</summary>
    public static long PastMidnight(long timeNs, long beforeNs)
    {
        long day = beforeNs / NsADay * NsADay;
        long time = day + timeNs;
        return beforeNs - time > NsADay / 2 ? time + NsADay : time;
    }

    private static bool Number(ReadOnlySpan<byte> text, int at, int digits, out int number)
    {
        number = 0;
        if (at + digits > text.Length)
            return false;
        for (int i = at; i < at + digits; i++)
        {
            if (!IsDigit(text[i]))
                return false;
            number = (number * 10) + (text[i] - '0');
        }
        return true;
    }

    private static bool IsDigit(byte octet) => octet is >= (byte)'0' and <= (byte)'9';
    private static bool IsLetter(byte octet) => (octet | 0x20) is >= (byte)'a' and <= (byte)'z';
}
