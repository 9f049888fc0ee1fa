using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Floods;

/// <summary>What one advertiser address sent of a flood at one TTL: one transmitter in the tree of hops.</summary>
public sealed class HopNode
{
    public required byte Ttl { get; init; }

    /// <summary>0 for the originator; null where its TTL is not known.</summary>
    public required int? Hop { get; init; }
    public required ulong Advertiser { get; init; }

    /// <summary>Who it is, as far as <see cref="Confidence"/> goes, or null: a relay, not known which.</summary>
    public required MeshAddress? Sender { get; init; }
    public required SenderConfidence Confidence { get; init; }

    /// <summary>Rows of the frames, in the order heard.</summary>
    public List<int> Frames { get; } = [];

    /// <summary>First hearing, or <see cref="CapturedFrame.NoTime"/>.</summary>
    public long FirstTimeNs { get; internal set; } = CapturedFrame.NoTime;
    public long LastTimeNs { get; internal set; } = CapturedFrame.NoTime;

    /// <summary>Its place in the tree: index of the transmitter with one TTL more that was heard first, before it; null where none was. A guess where several were.</summary>
    public int? Parent { get; internal set; }

    /// <summary>True if more than one transmitter could be the parent.</summary>
    public bool ParentIsGuess { get; internal set; }

    /// <summary>First hearing less the first hearing with one TTL more, at the same receiver; null where none was heard before it.</summary>
    public long? DelayNs { get; internal set; }
}

/// <summary>Who sent one flood on, hop by hop, as heard. Made when someone looks: the counts over the capture are in <see cref="HopStatistics"/>.</summary>
public static class HopTree
{
    /// <summary>The transmitters of a flood, highest TTL first, then in the order heard.</summary>
    public static IReadOnlyList<HopNode> Of(CaptureHistory history, int flood)
    {
        var nodes = new Dictionary<(byte Ttl, ulong Advertiser), HopNode>();
        foreach (FloodCopy copy in history.CopiesOf(flood))
        {
            ref FrameRow frame = ref history.Frames[copy.Frame];
            if (!frame.HasAdvertiser)
                continue;
            if (!nodes.TryGetValue((copy.Ttl, frame.Advertiser), out HopNode? node))
            {
                (MeshAddress? sender, SenderConfidence confidence) = history.SenderGuessOf(copy);
                node = new HopNode { Ttl = copy.Ttl, Hop = history.HopOf(flood, copy), Advertiser = frame.Advertiser, Sender = sender, Confidence = confidence };
                nodes.Add((copy.Ttl, frame.Advertiser), node);
            }
            node.Frames.Add(copy.Frame);
            if (frame.TimeNs == CapturedFrame.NoTime)
                continue;
            node.FirstTimeNs = node.FirstTimeNs == CapturedFrame.NoTime ? frame.TimeNs : Math.Min(node.FirstTimeNs, frame.TimeNs);
            node.LastTimeNs = Math.Max(node.LastTimeNs, frame.TimeNs);
        }
        List<HopNode> ordered = [.. nodes.Values.OrderByDescending(node => node.Ttl).ThenBy(node => node.FirstTimeNs)];
        FindParents(history, ordered);
        return ordered;
    }

    /// <summary>The clocks of two receivers may differ: only hearings of the same one are compared, that of a transmitter's first hearing.</summary>
    private static void FindParents(CaptureHistory history, List<HopNode> nodes)
    {
        var firsts = new Dictionary<(int Ttl, int Receiver), (int Node, long FirstNs, long SecondNs)>();
        for (int at = 0; at < nodes.Count; at++)
        {
            foreach ((int receiver, long firstNs) in FirstHearings(history, nodes[at]))
            {
                if (!firsts.TryGetValue((nodes[at].Ttl, receiver), out (int Node, long FirstNs, long SecondNs) known))
                    firsts[(nodes[at].Ttl, receiver)] = (at, firstNs, long.MaxValue);
                else if (firstNs < known.FirstNs)
                    firsts[(nodes[at].Ttl, receiver)] = (at, firstNs, known.FirstNs);
                else
                    firsts[(nodes[at].Ttl, receiver)] = known with { SecondNs = Math.Min(known.SecondNs, firstNs) };
            }
        }
        foreach (HopNode node in nodes)
        {
            int receiver = history.Frames[node.Frames[0]].Receiver;
            if (node.FirstTimeNs == CapturedFrame.NoTime || !firsts.TryGetValue((node.Ttl + 1, receiver), out (int Node, long FirstNs, long SecondNs) parent)
                || parent.FirstNs >= node.FirstTimeNs)
                continue;
            node.Parent = parent.Node;
            node.ParentIsGuess = parent.SecondNs < node.FirstTimeNs;
            node.DelayNs = node.FirstTimeNs - parent.FirstNs;
        }
    }

    private static IEnumerable<(int Receiver, long FirstNs)> FirstHearings(CaptureHistory history, HopNode node)
    {
        var met = new HashSet<int>();
        foreach (int row in node.Frames)
            if (history.Frames[row] is var frame && frame.TimeNs != CapturedFrame.NoTime && met.Add(frame.Receiver))
                yield return (frame.Receiver, frame.TimeNs);
    }
}
