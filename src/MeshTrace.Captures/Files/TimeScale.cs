namespace MeshTrace.Captures.Files;

/// <summary>Converts between the ticks of a pcapng interface (if_tsresol, if_tsoffset) and nanoseconds since 1970-01-01 UTC.</summary>
/// <remarks>pcapng draft, section "Interface Description Block": if_tsresol top bit 0 = units of 10^-n s, 1 = 2^-n s; n in the low 7
/// bits.</remarks>
internal readonly struct TimeScale
{
    private const long NsPerSecond = 1_000_000_000;

    private readonly bool _binary;
    private readonly int _exponent;
    private readonly long _offsetSeconds;
    private readonly ulong _factor;         // nanoseconds a tick, where that is a whole number
    private readonly ulong _fastBelow;      // for fewer ticks than this the product fits and no offset has to be added

    public TimeScale(byte resolution, long offsetSeconds)
    {
        _binary = (resolution & 0x80) != 0;
        _exponent = resolution & 0x7F;
        _offsetSeconds = offsetSeconds;
        if (!_binary && _exponent <= 9 && offsetSeconds == 0)
        {
            _factor = (ulong)PowerOfTen(9 - _exponent);
            _fastBelow = long.MaxValue / _factor;
        }
    }

    /// <summary>The resolution of an interface that does not tell one.</summary>
    public static TimeScale Microseconds { get; } = new(6, 0);

    /// <summary>False if the time lies outside of what 64 bits of nanoseconds can tell (years 1677 to 2262). Fractions of a nanosecond
    /// are cut off.</summary>
    public bool TryToNs(ulong ticks, out long timeNs)
    {
        if (ticks < _fastBelow)
        {
            timeNs = (long)(ticks * _factor);
            return true;
        }

        return TryToNsExactly(ticks, out timeNs);
    }

    private bool TryToNsExactly(ulong ticks, out long timeNs)
    {
        UInt128 ns;
        if (_binary)
            ns = (UInt128)ticks * NsPerSecond >> _exponent;         // 64 + 30 bits: fits
        else if (_exponent <= 9)
            ns = (UInt128)ticks * (ulong)PowerOfTen(9 - _exponent);
        else
            ns = _exponent - 9 > 19 ? 0 : ticks / (ulong)PowerOfTen(_exponent - 9);   // 10^20 is more than any count of ticks

        Int128 sum = (Int128)ns + ((Int128)_offsetSeconds * NsPerSecond);
        bool fits = sum > long.MinValue && sum <= long.MaxValue;
        timeNs = fits ? (long)sum : 0;
        return fits;
    }

    /// <summary>
    /// The ticks that are read back as this time, or as the last time before it that the resolution can tell. False if there are none:
    /// before the offset, or more than 64 bits.
    /// </summary>
    public bool TryToTicks(long timeNs, out ulong ticks)
    {
        ticks = 0;
        Int128 ns = timeNs - ((Int128)_offsetSeconds * NsPerSecond);
        if (ns < 0)
            return false;
        Int128 exact;
        if (_binary)
        {
            // Where a tick is finer than a nanosecond, rounding up is what makes reading (which rounds down) give the same nanosecond.
            Int128 rounding = _exponent >= 30 ? NsPerSecond - 1 : 0;
            if (_exponent > 64 || ns > long.MaxValue)
                return ns == 0;
            exact = (Int128)((((UInt128)ns << _exponent) + (UInt128)rounding) / NsPerSecond);
        }
        else if (_exponent <= 9)
        {
            exact = ns / PowerOfTen(9 - _exponent);
        }
        else
        {
            if (_exponent - 9 > 18 || ns > long.MaxValue)
                return ns == 0;
            exact = ns * PowerOfTen(_exponent - 9);
        }

        if (exact < 0 || exact > ulong.MaxValue)
            return false;
        ticks = (ulong)exact;
        return true;
    }

    private static Int128 PowerOfTen(int exponent)
    {
        Int128 power = 1;
        for (int i = 0; i < exponent; i++)
            power *= 10;
        return power;
    }
}
