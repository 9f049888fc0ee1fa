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

    /// <summary>Unicast addresses are below (Mesh Protocol 1.1 §3.4.2.2).</summary>
    private const int FirstNoUnicast = 0x8000;

    private readonly Dictionary<ushort, SequenceCount> _counts = [];
    private readonly Dictionary<ushort, ShareInterval> _intervals = [];
    private readonly DeafTimes _deaf;

    internal HeardShares(CaptureHistory history, NodeDirectory nodes, DeafTimes deaf)
    {
        _deaf = deaf;
        List<(ushort Src, Memory<Number> Numbers)> bySource = NumbersBySource(history);
        foreach (IGrouping<ushort, (ushort Src, Memory<Number> Numbers)> node in bySource.GroupBy(source => nodes.NodeOf(new MeshAddress(source.Src)).Value))
        {
            Memory<Number>[] elements = [.. node.Select(source => source.Numbers).Where(numbers => FirstOnAir(numbers.Span) >= 0)];
            if (elements.Length > 0)
                _counts[node.Key] = CountNode(elements);
        }
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
        return Math.Pow(ChanceMissed(in share, _deaf.DeafShareOf(fromNs, toNs)), expectedPdus);
    }

    /// <summary>Chance that one PDU was sent and missed.</summary>
    /// <param name="share">Share of the node's PDUs that is heard.</param>
    /// <param name="deafShare">Share of the time in which it should have come, 0 to 1, in which no receiver listened.</param>
    internal static double ChanceMissed(in ShareInterval share, double deafShare) => deafShare + ((1 - deafShare) * (1 - share.Low));

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

    /// <summary>The numbers that each source used, lowest source first, in the order of floods: one array for all.</summary>
    private static List<(ushort Src, Memory<Number> Numbers)> NumbersBySource(CaptureHistory history)
    {
        int[] ends = new int[FirstNoUnicast];
        for (int chunk = 0; chunk < history.Floods.Chunks; chunk++)
            foreach (ref readonly FloodRow flood in history.Floods.Chunk(chunk))
                if (flood.Src.IsUnicast)
                    ends[flood.Src.Value]++;
        int sum = 0;
        for (int src = 0; src < ends.Length; src++)
            (ends[src], sum) = (sum, sum + ends[src]);
        Number[] numbers = FreshArray.Of<Number>(sum);
        for (int chunk = 0; chunk < history.Floods.Chunks; chunk++)
            foreach (ref readonly FloodRow flood in history.Floods.Chunk(chunk))
                if (flood.Src.IsUnicast)
                    numbers[ends[flood.Src.Value]++] = new Number(flood.IvIndex, flood.Seq, flood.FirstTimeNs, flood.HeardOnAir);
        var bySource = new List<(ushort, Memory<Number>)>();
        for (int src = 0, start = 0; src < ends.Length; start = ends[src++])
            if (ends[src] > start)
                bySource.Add(((ushort)src, numbers.AsMemory(start..ends[src])));
        return bySource;
    }

    private static int FirstOnAir(ReadOnlySpan<Number> numbers)
    {
        int at = 0;
        while (at < numbers.Length && !numbers[at].OnAir)
            at++;
        return at < numbers.Length ? at : -1;
    }

    /// <summary>Elements of a node may share one sequence of numbers or have their own (Mesh Protocol 1.1 §3.8.3): numbers used twice tell that they have their own.</summary>
    private SequenceCount CountNode(Memory<Number>[] elements)
    {
        if (elements.Length == 1)
            return CountSequence(elements[0].Span);
        var used = new HashSet<(uint, uint)>();
        int distinct = 0;
        foreach (Memory<Number> numbers in elements)
        {
            var own = new HashSet<(uint, uint)>();
            foreach (ref readonly Number number in numbers.Span)
                own.Add((number.IvIndex, number.Seq));
            distinct += own.Count;
            used.UnionWith(own);
        }
        if (used.Count == distinct)
        {
            Number[] all = new Number[elements.Sum(numbers => numbers.Length)];
            int filled = 0;
            foreach (Memory<Number> numbers in elements)
            {
                numbers.CopyTo(all.AsMemory(filled));
                filled += numbers.Length;
            }
            return CountSequence(all);
        }
        SequenceCount[] each = [.. elements.Select(numbers => CountSequence(numbers.Span))];
        return new SequenceCount(each[0].First, each[0].Last, each.Sum(count => count.Floods), each.Sum(count => count.Gaps), each.Sum(count => count.DeafGaps),
            each.Sum(count => count.Jumps), each.Sum(count => count.Ends));
    }

    /// <param name="numbers">In the order of floods, with one that was heard on the air at least; in their own order afterwards.</param>
    private SequenceCount CountSequence(Span<Number> numbers)
    {
        uint first = numbers[FirstOnAir(numbers)].Seq;
        numbers.Sort();
        int floods = 1, gaps = 0, deafGaps = 0, jumps = 0, inRun = 1, ends = 0, start = FirstOnAir(numbers);
        Number before = numbers[start];
        uint elsewhere = 0;     // numbers since then that were used, but told by a connection: no sample of what is heard on the air
        for (int i = start + 1; i < numbers.Length; i++)
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
