using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Completeness;

/// <summary>Sequence numbers of one source as they were heard.</summary>
/// <param name="First">SEQ of the first flood heard.</param>
/// <param name="Last">Highest SEQ at the highest IV index.</param>
/// <param name="Floods">Floods heard, each SEQ once.</param>
/// <param name="Gaps">Numbers between them that were used but not heard; jumps left out.</param>
/// <param name="DeafGaps">Of the gaps, those between two floods with a time of deaf receivers between them.</param>
/// <param name="Jumps">Skips that are no gaps: after a power cut a node goes on at the next stored block.</param>
/// <param name="Ends">First and last floods of the runs between jumps: they were heard because there the count begins and ends, so they are no sample.</param>
public readonly record struct SequenceCount(uint First, uint Last, int Floods, int Gaps, int DeafGaps, int Jumps, int Ends);

/// <summary>
/// How much of each node's traffic was heard. A number skipped in a node's SEQ was used and not heard, save for jumps: after a power cut stacks
/// go on at the next stored block, and what goes in a subnet without key uses numbers too. Numbers told by a connection alone are neither heard nor missed. So the shares are rather too low than too high.
/// </summary>
public sealed class HeardShares
{
    /// <summary>A skip above this is a jump, not so many floods missed in a row (threshold ours).</summary>
    public const uint LongestSkip = 64;

    /// <summary>So many numbers can be skipped at any pace; beyond, a node that used more than 50 a second jumped (diagnosis rule "sequence jumped", ours).</summary>
    private const uint ShortSkip = 16;
    private const double MostNumbersPerSecond = 50;

    /// <summary>Fewer floods tell nothing.</summary>
    private const int LeastFloods = 3;

    private readonly Dictionary<ushort, SequenceCount> _counts = [];
    private readonly Dictionary<ushort, ShareInterval> _intervals = [];
    private readonly DeafTimes _deaf;

    internal HeardShares(CaptureHistory history, NodeDirectory nodes, DeafTimes deaf)
    {
        _deaf = deaf;
        var bySource = new Dictionary<ushort, List<Number>>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (!flood.Src.IsUnicast)
                continue;
            if (!bySource.TryGetValue(flood.Src.Value, out List<Number>? numbers))
                bySource.Add(flood.Src.Value, numbers = []);
            numbers.Add(new Number(flood.IvIndex, flood.Seq, flood.FirstTimeNs, flood.HeardOnAir));
        }
        foreach (IGrouping<ushort, ushort> node in bySource.Keys.Order().GroupBy(src => nodes.NodeOf(new MeshAddress(src)).Value))
            if (node.Any(src => bySource[src].Exists(number => number.OnAir)))
                _counts[node.Key] = CountNode([.. node.Where(src => bySource[src].Exists(number => number.OnAir)).Select(src => bySource[src])]);
        foreach ((ushort node, SequenceCount count) in _counts)
            if (count.Floods >= LeastFloods && count.Floods > count.Ends)
                _intervals[node] = ShareInterval.Of(count.Floods - count.Ends, count.Floods - count.Ends + count.Gaps - count.DeafGaps);
    }

    /// <summary>Repeats as heard and set: set once senders are known, for the shares of advertising events.</summary>
    internal NodeRepeats? Repeats { get; set; }

    public SequenceCount? CountOf(MeshAddress node) => _counts.TryGetValue(node.Value, out SequenceCount count) ? count : null;

    /// <summary>Share of the node's Network PDUs of which at least one copy was heard, at any TTL; null below three floods, which tell nothing.</summary>
    public double? FloodShareOf(MeshAddress node) =>
        CountOf(node) is { Floods: >= LeastFloods } count ? count.Floods / (double)(count.Floods + count.Gaps) : null;

    /// <summary>
    /// The same with its interval, over the time in which the receivers listened; null below three floods. Chances that something was missed are to be
    /// taken from its lower end.
    /// </summary>
    public ShareInterval? FloodIntervalOf(MeshAddress node) => _intervals.TryGetValue(node.Value, out ShareInterval interval) ? interval : null;

    /// <summary>
    /// Share of the node's own advertising events that were heard, relays left out: events attributed to it, of PDUs sent times the transmissions of
    /// each. Null where the node cannot be told from relays, or its transmissions are not known.
    /// </summary>
    public ShareInterval? EventIntervalOf(MeshAddress node)
    {
        if (CountOf(node) is not { Floods: >= LeastFloods } count || Repeats?.NetworkTransmitOf(node) is not { Samples: >= LeastFloods } own
            || Repeats.TransmissionsOf(node) is not { } transmissions || transmissions == 0)
            return null;
        long sent = (long)transmissions * Math.Max(count.Floods + count.Gaps - count.DeafGaps, own.Samples);
        return ShareInterval.Of(Math.Min(own.Events, sent), sent);
    }

    /// <summary>
    /// Chance that every one of some PDUs of a node was sent and missed by the receivers: 1 where nothing is known of the node, so that its silence says
    /// nothing. Taken from the lower end of its share, and worse for the part of the time in which the receivers were deaf.
    /// </summary>
    /// <param name="node">Primary address.</param>
    /// <param name="expectedPdus">Network PDUs that it should have sent, each counted once however often it is transmitted.</param>
    /// <param name="fromNs">Begin of the time in which they should have come.</param>
    /// <param name="toNs">Its end.</param>
    public double ChanceAllMissed(MeshAddress node, int expectedPdus, long fromNs, long toNs)
    {
        if (expectedPdus <= 0 || FloodIntervalOf(node) is not { } share)
            return 1;
        double deaf = _deaf.DeafShareOf(fromNs, toNs);
        return Math.Pow(deaf + ((1 - deaf) * (1 - share.Low)), expectedPdus);
    }

    /// <summary>
    /// The same over all shares that the node may have, each as likely as its sequence numbers make it (beta-binomial, from an even start after H. Jeffreys), instead of
    /// the lower end alone: for many PDUs that is far less, and it holds only if they are heard as well as the others. 1 where nothing is known of the node.
    /// </summary>
    /// <param name="node">Primary address.</param>
    /// <param name="expectedPdus">Network PDUs that it should have sent while the receivers listened.</param>
    public double MeanChanceAllMissed(MeshAddress node, int expectedPdus)
    {
        if (FloodIntervalOf(node) is not { } share)
            return 1;
        double heard = (share.Share * share.Samples) + 0.5, missed = share.Samples + 1 - heard, chance = 1;
        for (int pdu = 0; pdu < expectedPdus; pdu++)
            chance *= (missed + pdu) / (heard + missed + pdu);
        return chance;
    }

    /// <summary>
    /// Chance that each of these nodes sent one PDU and the receivers missed every one of them. Deafness is common to all: it is not multiplied as chances that
    /// are independent would be. A node of which nothing is known adds nothing; with none known the chance is 1.
    /// </summary>
    public double ChanceAllMissed(IEnumerable<MeshAddress> senders, long fromNs, long toNs)
    {
        double hearing = 1;
        foreach (MeshAddress node in senders)
            if (FloodIntervalOf(node) is { } share)
                hearing *= 1 - share.Low;
        double deaf = _deaf.DeafShareOf(fromNs, toNs);
        return deaf + ((1 - deaf) * hearing);
    }

    /// <summary>Elements of a node may share one sequence of numbers or have their own (Mesh Protocol 1.1 §3.8.3): numbers used twice tell that they have their own.</summary>
    private SequenceCount CountNode(List<Number>[] elements)
    {
        if (elements.Length == 1)
            return CountSequence(elements[0]);
        var used = new HashSet<(uint, uint)>();
        int distinct = 0;
        foreach (List<Number> numbers in elements)
        {
            HashSet<(uint, uint)> own = [.. numbers.Select(number => (number.IvIndex, number.Seq))];
            distinct += own.Count;
            used.UnionWith(own);
        }
        if (used.Count == distinct)
            return CountSequence([.. elements.SelectMany(numbers => numbers)]);
        SequenceCount[] each = [.. elements.Select(CountSequence)];
        return new SequenceCount(each[0].First, each[0].Last, each.Sum(count => count.Floods), each.Sum(count => count.Gaps), each.Sum(count => count.DeafGaps),
            each.Sum(count => count.Jumps), each.Sum(count => count.Ends));
    }

    private SequenceCount CountSequence(List<Number> numbers)
    {
        uint first = numbers.Find(number => number.OnAir).Seq;
        numbers.Sort();
        int floods = 1, gaps = 0, deafGaps = 0, jumps = 0, inRun = 1, ends = 0, start = numbers.FindIndex(number => number.OnAir);
        Number before = numbers[start];
        uint elsewhere = 0;     // numbers since then that were used, but told by a connection: no sample of what is heard on the air
        for (int i = start + 1; i < numbers.Count; i++)
        {
            Number now = numbers[i];
            if (now.IvIndex == numbers[i - 1].IvIndex && now.Seq == numbers[i - 1].Seq)
                continue;
            if (!now.OnAir)
            {
                elsewhere += now.IvIndex == before.IvIndex ? 1u : 0;
                continue;
            }
            floods++;
            uint skipped = now.IvIndex == before.IvIndex ? now.Seq - before.Seq - 1 - elsewhere : 0;
            bool jump = now.IvIndex != before.IvIndex || IsJump(skipped, before.TimeNs, now.TimeNs);
            bool deaf = !jump && skipped > 0 && now.TimeNs > before.TimeNs && before.TimeNs != CapturedFrame.NoTime && _deaf.IsDeaf(before.TimeNs, now.TimeNs);
            gaps += jump ? 0 : (int)skipped;
            deafGaps += deaf ? (int)skipped : 0;
            jumps += jump && now.IvIndex == before.IvIndex ? 1 : 0;
            if (jump || deaf)
            {
                ends += Math.Min(inRun, 2);
                inRun = 0;
            }
            inRun++;
            before = now;
            elsewhere = 0;
        }
        return new SequenceCount(first, before.Seq, floods, gaps, deafGaps, jumps, ends + Math.Min(inRun, 2));
    }

    private static bool IsJump(uint skipped, long beforeNs, long nowNs)
    {
        if (skipped > LongestSkip)
            return true;
        if (skipped <= ShortSkip || beforeNs == CapturedFrame.NoTime || nowNs == CapturedFrame.NoTime || nowNs < beforeNs)
            return false;
        return skipped > ShortSkip + (MostNumbersPerSecond * (nowNs - beforeNs) / 1e9);
    }

    /// <summary>A sequence number as used; ordered by IV index, then SEQ, then time.</summary>
    private readonly record struct Number(uint IvIndex, uint Seq, long TimeNs, bool OnAir) : IComparable<Number>
    {
        public int CompareTo(Number other) =>
            IvIndex != other.IvIndex ? IvIndex.CompareTo(other.IvIndex)
            : Seq != other.Seq ? Seq.CompareTo(other.Seq)
            : OnAir != other.OnAir ? other.OnAir.CompareTo(OnAir)
            : TimeNs.CompareTo(other.TimeNs);
    }
}
