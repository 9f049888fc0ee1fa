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
        var nodes = new List<HopNode>();
        foreach (FloodCopy copy in history.CopiesOf(flood))
        {
            ref FrameRow frame = ref history.Frames[copy.Frame];
            if (!frame.HasAdvertiser)
                continue;
            ulong advertiser = frame.Advertiser;
            HopNode? node = nodes.Find(one => one.Ttl == copy.Ttl && one.Advertiser == advertiser);
            if (node is null)
            {
                (MeshAddress? sender, SenderConfidence confidence) = history.SenderGuessOf(copy);
                node = new HopNode { Ttl = copy.Ttl, Hop = history.HopOf(flood, copy), Advertiser = advertiser, Sender = sender, Confidence = confidence };
                nodes.Add(node);
            }
            node.Frames.Add(copy.Frame);
            if (frame.TimeNs == CapturedFrame.NoTime)
                continue;
            node.FirstTimeNs = node.FirstTimeNs == CapturedFrame.NoTime ? frame.TimeNs : Math.Min(node.FirstTimeNs, frame.TimeNs);
            node.LastTimeNs = Math.Max(node.LastTimeNs, frame.TimeNs);
        }
        nodes = [.. nodes.OrderByDescending(node => node.Ttl).ThenBy(node => node.FirstTimeNs)];
        foreach (HopNode node in nodes)
            FindParent(history, node, nodes);
        return nodes;
    }

    private static void FindParent(CaptureHistory history, HopNode node, List<HopNode> nodes)
    {
        if (node.FirstTimeNs == CapturedFrame.NoTime)
            return;
        int receiver = history.Frames[node.Frames[0]].Receiver, candidates = 0;
        long earliest = long.MaxValue;
        for (int at = 0; at < nodes.Count; at++)
        {
            if (nodes[at].Ttl != node.Ttl + 1 || FirstAt(history, nodes[at], receiver) is not { } first || first >= node.FirstTimeNs)
                continue;
            candidates++;
            if (first >= earliest)
                continue;
            earliest = first;
            node.Parent = at;
        }
        node.ParentIsGuess = candidates > 1;
        node.DelayNs = candidates > 0 ? node.FirstTimeNs - earliest : null;
    }

    /// <summary>First hearing at one receiver: the clocks of two may differ.</summary>
    private static long? FirstAt(CaptureHistory history, HopNode node, int receiver)
    {
        foreach (int row in node.Frames)
            if (history.Frames[row] is var frame && frame.Receiver == receiver && frame.TimeNs != CapturedFrame.NoTime)
                return frame.TimeNs;
        return null;
    }
}
