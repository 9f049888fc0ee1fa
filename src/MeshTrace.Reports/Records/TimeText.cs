using System.Globalization;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Records;

/// <summary>Writes times as <c>2026-03-02T18:00:00.123456000Z</c>. The second's part is kept, as most times share it with the one before.</summary>
internal sealed class TimeText
{
    private const long NsPerSecond = 1_000_000_000;
    private const int DecimalsAt = 20, Decimals = 9;

    private readonly byte[] _text = "0000-00-00T00:00:00.000000000Z"u8.ToArray();
    private long _second = long.MinValue;

    /// <summary>Gives the text, good until the next call; false where the time is not known.</summary>
    public bool TryFormat(long timeNs, out ReadOnlySpan<byte> text)
    {
        text = default;
        if (timeNs == CapturedFrame.NoTime)
            return false;
        long second = Math.DivRem(timeNs, NsPerSecond, out long ns);
        if (ns < 0)
        {
            second--;
            ns += NsPerSecond;
        }
        if (second != _second)
        {
            // 64 bits of nanoseconds reach from 1677 to 2262: always four digits of year.
            DateTimeOffset.FromUnixTimeSeconds(second).TryFormat(_text, out _, "yyyy-MM-ddTHH:mm:ss", CultureInfo.InvariantCulture);
            _second = second;
        }
        uint left = (uint)ns;
        for (int at = DecimalsAt + Decimals - 1; at >= DecimalsAt; at--)
        {
            (left, uint digit) = Math.DivRem(left, 10);
            _text[at] = (byte)('0' + digit);
        }
        text = _text;
        return true;
    }
}
