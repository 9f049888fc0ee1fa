using System.Globalization;

namespace MeshTrace.Captures.Alignment;

/// <summary>
/// Fits offset and drift of one clock to hearings of others. The same octets may have been transmitted several times, so a pair of equal octets need not be one
/// transmission: the offset that most pairs agree on within some seconds is the seed, then a line is grown from there over the whole time, by the median of slopes
/// and at last by least squares over what fits.
/// </summary>
internal sealed class ClockFit
{
    /// <summary>Fewer pairs may agree by chance; a clock of a receiver is worse than this only if it is broken (thresholds ours).</summary>
    private const int FewestPairs = 8;
    private const double LargestDriftPpm = 500;

    /// <summary>
    /// Packets are stamped by hardware within the first of these; packets of one event on two channels are this far from what lies between the channels; a host stamps
    /// within the last (common practice, no source).
    /// </summary>
    private const long CloseNs = 300_000, EventNs = 1_000_000, LooseNs = 4_000_000;

    private const long ShortestSpanNs = 5_000_000_000;       // over less, drift cannot be told
    /// <summary>Packets of one event follow each other within this; pairs on one channel lie this close together, and those on others this far (common practice, no source).</summary>
    private const long LongestEventNs = 2_500_000, PeakNs = 20_000, PeakApartNs = 150_000;
    private const double AsSharp = 0.7;
    private const long NoDifferenceNs = 20_000;

    private const int MostPairs = 1 << 20, MostSlopes = 300, MostOfPool = 4 * HearingSample.MostAlike, Blocks = 16, EnoughInBlock = 12;

    /// <summary>Agreement is held against that at wrong offsets: repetitions of a PDU, at which pairs agree by chance.</summary>
    private static readonly long[] s_wrongNs = [3_000_000, 7_000_000, 13_000_000, 17_000_000, 23_000_000, 29_000_000, 41_000_000, 53_000_000];
    private static readonly long[] s_windowsNs = [10_000_000_000, 60_000_000_000, 600_000_000_000];

    private readonly List<Pair> _pairs = [];
    private readonly int _shared;
    private readonly long _toleranceNs;
    private readonly bool _close;

    private ClockFit(List<Hearing> pool, List<Hearing> own, long toleranceNs, bool close = false)
    {
        _close = close;
        _toleranceNs = toleranceNs;
        for (int from = 0, fromPool = 0, to; from < own.Count; from = to)
        {
            ulong key = own[from].Key;
            for (to = from + 1; to < own.Count && own[to].Key == key;)
                to++;
            while (fromPool < pool.Count && pool[fromPool].Key < key)
                fromPool++;
            int toPool = fromPool;
            while (toPool < pool.Count && pool[toPool].Key == key)
                toPool++;
            if (_pairs.Count >= MostPairs)
                break;
            if (toPool == fromPool || to - from > HearingSample.MostAlike || toPool - fromPool > MostOfPool)
                continue;
            int before = _pairs.Count;
            for (int mine = from; mine < to; mine++)
                for (int other = fromPool; other < toPool; other++)
                    if (!close || own[mine].MayShareChannel(pool[other]))
                        _pairs.Add(new Pair(own[mine].TimeNs, own[mine].TimeNs - pool[other].TimeNs, mine, _shared));
            _shared += _pairs.Count > before ? 1 : 0;
        }
        _pairs.Sort((one, other) => one.TimeNs.CompareTo(other.TimeNs));
    }

    /// <summary>True if packets of one event on different channels are paired.</summary>
    private bool IsByEvents => _toleranceNs == EventNs;

    /// <param name="pool">Hearings in the clock of the reference, ordered by octets and time.</param>
    /// <param name="own">Hearings of the clock to fit, ordered likewise.</param>
    public static ClockFitResult Of(List<Hearing> pool, List<Hearing> own)
    {
        ClockFitResult result = new ClockFit(pool, own, CloseNs, close: true).Fit();
        if (result.Line is not null)
            return result;
        // Receivers that stay on different channels hear different packets of one event; a host stamps late.
        ClockFitResult apart = new ClockFit(pool, own, EventNs).Fit();
        ClockFitResult loose = apart.Line is not null ? apart : new ClockFit(pool, own, LooseNs).Fit();
        return loose.Line is not null || result.Shared == 0 ? loose : result;
    }

    private ClockFitResult Fit()
    {
        if (_shared < FewestPairs)
            return Refused($"{_shared} transmissions were heard by another receiver too, and {FewestPairs} are needed");
        if (Seed() is not { } seed || Grown(seed.Line, seed.HalfNs, seed.ToleranceNs) is not { } line)
            return Refused($"no offset fits the {_shared} transmissions that another receiver may have heard too");
        line = LeastSquares(LeastSquares(LeastSquares(line)));
        long doubtNs = 0;
        if (_close)
            (line, doubtNs) = Sharpest(line);
        if (Math.Abs(line.Slope) * 1e6 > LargestDriftPpm)
            return Refused(string.Create(CultureInfo.InvariantCulture, $"its clock would run {line.Slope * 1e6:0} ppm fast, and no clock of a receiver is {LargestDriftPpm:0} ppm off"));
        long[] residuals = Residuals(line);
        if (residuals.Length < FewestPairs)
            return Refused($"only {residuals.Length} of the {_shared} transmissions that another receiver may have heard too fit one offset");
        // A wrong offset whose window overlaps that of the right one would count the same pairs.
        int wrong = s_wrongNs.Where(shift => shift > 2 * _toleranceNs).Max(shift => Math.Max(Agreeing(line, shift), Agreeing(line, -shift)));
        if (Agreeing(line, 0) < 2 * wrong)
            return Refused($"several offsets fit the {_shared} transmissions that another receiver may have heard too about as well");
        if (Jumps(line))
            return Refused($"its clock jumped: part of the {_shared} transmissions that another receiver may have heard too fit one offset, and part do not");
        if (IsNoDifference(line, residuals[residuals.Length * 95 / 100]))
        {
            var same = new ClockLine(0, 0, 0);
            long between = IsByEvents ? Furthest(line) : 0;
            residuals = between > 0 ? [.. residuals.Select(off => off + between)] : Residuals(same);
            line = same;
        }
        return new ClockFitResult(line, _shared, residuals.Length, residuals[residuals.Length / 2], Math.Max(doubtNs, residuals[residuals.Length * 95 / 100]), null);
    }

    /// <summary>
    /// Where a file does not tell the channel, packets of one event on other channels agree about as well, a packet's length and a pause later. Only packets on
    /// the same channel agree whatever their lengths are: that is the sharpest peak. Where another is as sharp, nobody can tell which is right.
    /// </summary>
    /// <returns>The line, and how far another one is from it that fits as sharply, or 0.</returns>
    private (ClockLine Line, long DoubtNs) Sharpest(ClockLine line)
    {
        long[] off = [.. _pairs.Select(pair => pair.AheadNs - line.AheadAt(pair.TimeNs)).Where(off => Math.Abs(off) <= LongestEventNs).Order()];
        (int most, long best) = Peak(off, long.MinValue);
        if (most == 0)
            return (line, 0);
        if (Math.Abs(best) > PeakApartNs)
            line = LeastSquares(LeastSquares(line with { AheadNs = line.AheadNs + best }));
        (int second, long other) = Peak(off, best);
        return (line, second >= AsSharp * most ? Math.Abs(other - best) : 0);
    }

    /// <summary>The place at which most of some ordered numbers lie close together, away from another place.</summary>
    private static (int Count, long At) Peak(long[] ordered, long awayFrom)
    {
        (int most, long at) = (0, 0);
        for (int low = 0, high = 0; high < ordered.Length; high++)
        {
            while (ordered[high] - ordered[low] > PeakNs)
                low++;
            long middle = ordered[(low + high) / 2];
            if (high - low + 1 > most && (awayFrom == long.MinValue || Math.Abs(middle - awayFrom) > PeakApartNs))
                (most, at) = (high - low + 1, middle);
        }
        return (most, at);
    }

    /// <summary>
    /// True if the clocks agree as they are, as in an excerpt whose times were aligned when it was written: then no time is touched. Between packets of one event on two
    /// channels lies a part of the event's time, and nothing tells how much.
    /// </summary>
    private bool IsNoDifference(ClockLine line, long largeNs) =>
        Furthest(line) <= (IsByEvents ? LongestEventNs : Math.Max(largeNs, NoDifferenceNs));

    /// <summary>How far the clocks are apart, at the end where that is more.</summary>
    private long Furthest(ClockLine line) => Math.Max(Math.Abs(line.AheadAt(_pairs[0].TimeNs)), Math.Abs(line.AheadAt(_pairs[^1].TimeNs)));

    private ClockFitResult Refused(string says) => new(null, _shared, 0, 0, 0, says);

    /// <summary>The short time in which most pairs agree.</summary>
    private (ClockLine Line, long HalfNs, long ToleranceNs)? Seed()
    {
        foreach (long window in s_windowsNs)
        {
            long width = 1_000_000 + (window / 10_000);      // 100 ppm of the window
            (int most, long aheadNs, long atNs) = (0, 0, 0);
            for (int from = 0, to; from < _pairs.Count; from = to)
            {
                for (to = from + 1; to < _pairs.Count && _pairs[to].TimeNs - _pairs[from].TimeNs < window;)
                    to++;
                if (to - from <= most)
                    continue;
                long[] ahead = [.. _pairs[from..to].Select(pair => pair.AheadNs).Order()];
                for (int low = 0, high = 0; high < ahead.Length; high++)
                {
                    while (ahead[high] - ahead[low] > width)
                        low++;
                    if (high - low + 1 > most)
                        (most, aheadNs, atNs) = (high - low + 1, ahead[(low + high) / 2], _pairs[from].TimeNs + ((_pairs[to - 1].TimeNs - _pairs[from].TimeNs) / 2));
                }
            }
            if (most >= FewestPairs)
                return (new ClockLine(atNs, aheadNs, 0), window / 2, width);
        }
        return null;
    }

    /// <summary>Follows the line to both sides, each time twice as far.</summary>
    private ClockLine? Grown(ClockLine line, long halfNs, long toleranceNs)
    {
        long first = _pairs[0].TimeNs, last = _pairs[^1].TimeNs;
        while (true)
        {
            List<Pair> near = [.. _pairs.Where(pair => Math.Abs(pair.TimeNs - line.AtNs) <= halfNs && Math.Abs(pair.AheadNs - line.AheadAt(pair.TimeNs)) <= toleranceNs)];
            if (near.Count < FewestPairs / 2)
                return null;
            line = MedianSlope(line, near);
            long[] off = [.. near.Select(pair => Math.Abs(pair.AheadNs - line.AheadAt(pair.TimeNs))).Order()];
            toleranceNs = Math.Max(_toleranceNs, Math.Min(toleranceNs, 6 * off[off.Length / 2]));
            if (halfNs >= last - first)
                return line;
            halfNs = halfNs > (last - first) / 2 ? last - first : halfNs * 2;
        }
    }

    private static ClockLine MedianSlope(ClockLine line, List<Pair> near)
    {
        int step = Math.Max(1, near.Count / MostSlopes);
        List<Pair> some = [.. near.Where((_, at) => at % step == 0)];
        long span = some[^1].TimeNs - some[0].TimeNs;
        var slopes = new List<double>();
        for (int one = 0; one < some.Count && span >= ShortestSpanNs; one++)
            for (int other = one + 1; other < some.Count; other++)
                if (some[other].TimeNs - some[one].TimeNs is var apart && apart >= span / 4)
                    slopes.Add((some[other].AheadNs - some[one].AheadNs) / (double)apart);
        slopes.Sort();
        double slope = slopes.Count == 0 ? line.Slope : slopes[slopes.Count / 2];
        var straight = line with { Slope = slope };
        long[] off = [.. near.Select(pair => pair.AheadNs - straight.AheadAt(pair.TimeNs)).Order()];
        return straight with { AheadNs = straight.AheadNs + off[off.Length / 2] };
    }

    private ClockLine LeastSquares(ClockLine line)
    {
        (double n, double x, double y, double xx, double xy, long first, long last) = (0, 0, 0, 0, 0, long.MaxValue, long.MinValue);
        foreach (Pair pair in _pairs)
        {
            long off = pair.AheadNs - line.AheadAt(pair.TimeNs), at = pair.TimeNs - line.AtNs;
            if (Math.Abs(off) > _toleranceNs)
                continue;
            (n, x, y, xx, xy) = (n + 1, x + at, y + off, xx + ((double)at * at), xy + ((double)at * off));
            (first, last) = (Math.Min(first, at), Math.Max(last, at));
        }
        if (n < 2)
            return line;
        double spread = xx - (x * x / n), slope = last - first < ShortestSpanNs || spread <= 0 ? 0 : (xy - (x * y / n)) / spread;
        return new ClockLine(line.AtNs, line.AheadNs + (long)Math.Round((y - (slope * x)) / n), line.Slope + slope);
    }

    /// <summary>Of each hearing, how far its best partner is off; ordered.</summary>
    private long[] Residuals(ClockLine line)
    {
        var best = new Dictionary<int, long>();
        foreach (Pair pair in _pairs)
        {
            long off = Math.Abs(pair.AheadNs - line.AheadAt(pair.TimeNs));
            if (off <= _toleranceNs && (!best.TryGetValue(pair.Hearing, out long known) || off < known))
                best[pair.Hearing] = off;
        }
        return [.. best.Values.Order()];
    }

    private int Agreeing(ClockLine line, long shiftNs) => _pairs.Count(pair => Math.Abs(pair.AheadNs - line.AheadAt(pair.TimeNs) - shiftNs) <= _toleranceNs);

    /// <summary>True if there is a part of the time in which next to nothing fits, though as much was heard.</summary>
    private bool Jumps(ClockLine line)
    {
        Span<int> heard = stackalloc int[Blocks], fitting = stackalloc int[Blocks];
        heard.Clear();
        fitting.Clear();
        var block = new Dictionary<int, (int At, bool Fits)>();
        long first = _pairs[0].TimeNs, length = Math.Max(1, ((_pairs[^1].TimeNs - first) / Blocks) + 1);
        foreach (Pair pair in _pairs)
        {
            bool fits = Math.Abs(pair.AheadNs - line.AheadAt(pair.TimeNs)) <= _toleranceNs;
            block[pair.Content] = block.TryGetValue(pair.Content, out (int At, bool Fits) known) ? (known.At, known.Fits || fits) : ((int)((pair.TimeNs - first) / length), fits);
        }
        foreach ((int at, bool fits) in block.Values)
        {
            heard[at]++;
            fitting[at] += fits ? 1 : 0;
        }
        double usual = 0;
        for (int at = 0; at < Blocks; at++)
            if (heard[at] >= EnoughInBlock)
                usual = Math.Max(usual, fitting[at] / (double)heard[at]);
        for (int at = 0; at < Blocks; at++)
            if (heard[at] >= EnoughInBlock && fitting[at] < usual * heard[at] / 4)
                return true;
        return false;
    }

    /// <summary>Two hearings of equal octets.</summary>
    /// <param name="TimeNs">By the clock to fit.</param>
    /// <param name="AheadNs">How far it is ahead if both are one transmission.</param>
    /// <param name="Hearing">Place of its hearing.</param>
    /// <param name="Content">Number of the octets.</param>
    private readonly record struct Pair(long TimeNs, long AheadNs, int Hearing, int Content);
}
