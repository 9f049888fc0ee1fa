using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Completeness;

/// <summary>Sequence numbers of one source as they were heard.</summary>
/// <param name="First">SEQ of the first flood heard.</param>
/// <param name="Last">Highest SEQ at the highest IV index.</param>
/// <param name="Floods">Floods heard, each SEQ once.</param>
/// <param name="Gaps">Numbers between them that were used but not heard; jumps left out.</param>
public readonly record struct SequenceCount(uint First, uint Last, int Floods, int Gaps);

/// <summary>
/// How much of each node's traffic was heard. A number skipped in a node's SEQ was used and not heard, save for jumps: after a power cut stacks
/// go on at the next stored block, and what goes over GATT or in a subnet without key uses numbers too.
/// </summary>
public sealed class HeardShares
{
    /// <summary>A skip above this is a jump, not so many floods missed in a row (threshold ours).</summary>
    public const uint LongestSkip = 64;

    private readonly Dictionary<ushort, SequenceCount> _counts = [];

    internal HeardShares(CaptureHistory history, NodeDirectory nodes)
    {
        var bySource = new Dictionary<ushort, List<(uint IvIndex, uint Seq)>>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (!flood.Src.IsUnicast)
                continue;
            if (!bySource.TryGetValue(flood.Src.Value, out List<(uint, uint)>? numbers))
                bySource.Add(flood.Src.Value, numbers = []);
            numbers.Add((flood.IvIndex, flood.Seq));
        }
        foreach (IGrouping<ushort, ushort> node in bySource.Keys.Order().GroupBy(src => nodes.NodeOf(new MeshAddress(src)).Value))
            _counts[node.Key] = CountNode([.. node.Select(src => bySource[src])]);
    }

    public SequenceCount? CountOf(MeshAddress node) => _counts.TryGetValue(node.Value, out SequenceCount count) ? count : null;

    /// <summary>Share of the node's Network PDUs of which at least one copy was heard, at any TTL; null below three floods, which tell nothing.</summary>
    public double? FloodShareOf(MeshAddress node) =>
        CountOf(node) is { Floods: >= 3 } count ? count.Floods / (double)(count.Floods + count.Gaps) : null;

    /// <summary>Elements of a node may share one sequence of numbers or have their own (Mesh Protocol 1.1 §3.8.3): numbers used twice tell that they have their own.</summary>
    private static SequenceCount CountNode(List<(uint IvIndex, uint Seq)>[] elements)
    {
        if (elements.Length == 1)
            return CountSequence(elements[0]);
        List<(uint, uint)> together = [.. elements.SelectMany(numbers => numbers.Distinct())];
        if (together.Distinct().Count() == together.Count)
            return CountSequence(together);
        SequenceCount[] each = [.. elements.Select(CountSequence)];
        return new SequenceCount(each[0].First, each[0].Last, each.Sum(count => count.Floods), each.Sum(count => count.Gaps));
    }

    private static SequenceCount CountSequence(List<(uint IvIndex, uint Seq)> numbers)
    {
        uint first = numbers[0].Seq;
        numbers.Sort();
        int floods = 1, gaps = 0;
        for (int i = 1; i < numbers.Count; i++)
        {
            if (numbers[i] == numbers[i - 1])
                continue;
            floods++;
            if (numbers[i].IvIndex == numbers[i - 1].IvIndex && numbers[i].Seq - numbers[i - 1].Seq - 1 is var skipped and <= LongestSkip)
                gaps += (int)skipped;
        }
        return new SequenceCount(first, numbers[^1].Seq, floods, gaps);
    }
}
