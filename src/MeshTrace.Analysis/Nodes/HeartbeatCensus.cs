using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Analysis.Nodes;

/// <summary>Hops that the copies of Heartbeats had taken where the receivers are: InitTTL - TTL + 1 (Mesh Protocol 1.1 §3.6.7.3).</summary>
/// <param name="InitTtl">TTL with which the node sent them; the highest, where it changed.</param>
/// <param name="LeastHops">Of all copies heard; 1 is straight from the node.</param>
/// <param name="MostHops">Of all copies heard.</param>
public readonly record struct HeartbeatHops(int InitTtl, int LeastHops, int MostHops);

/// <summary>The Heartbeats of one node.</summary>
/// <param name="Node">Primary address of the node that sent them.</param>
/// <param name="Heard">Different Heartbeats.</param>
/// <param name="Hops">How far their copies had come.</param>
public sealed record NodeHeartbeats(MeshAddress Node, int Heard, HeartbeatHops Hops);

/// <summary>Which nodes send Heartbeats, and how many hops away from the receivers they are.</summary>
public static class HeartbeatCensus
{
    /// <summary>In the order of addresses.</summary>
    public static IReadOnlyList<NodeHeartbeats> Of(CaptureHistory history)
    {
        var nodes = new SortedDictionary<ushort, NodeHeartbeats>();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            if (HopsOf(history, row) is not { } hops)
                continue;
            MeshAddress node = history.Directory.NodeOf(history.Messages[row].Src);
            nodes[node.Value] = nodes.TryGetValue(node.Value, out NodeHeartbeats? before)
                ? new NodeHeartbeats(node, before.Heard + 1, Wider(before.Hops, hops))
                : new NodeHeartbeats(node, 1, hops);
        }
        return [.. nodes.Values];
    }

    /// <summary>How far the copies of one Heartbeat had come; null for another message, and where no copy has a TTL that fits its InitTTL.</summary>
    /// <param name="history">The capture.</param>
    /// <param name="message">Row of the message.</param>
    public static HeartbeatHops? HopsOf(CaptureHistory history, int message)
    {
        ref readonly MessageRow row = ref history.Messages[message];
        ReadOnlySpan<byte> parameters = history.PayloadOf(message);
        if (!row.IsControl || row.Opcode.Value != Heartbeat.Opcode || parameters.IsEmpty)
            return null;
        int initTtl = parameters[0] & 0x7F;     // RFU (1 bit) | InitTTL (7), §3.6.5.10
        HeartbeatHops? all = null;
        foreach (int flood in history.FloodSpanOf(message))
        {
            ref readonly FloodRow copies = ref history.Floods[flood];
            if (Heartbeat.Hops(initTtl, copies.HighestTtl) is { } least && Heartbeat.Hops(initTtl, copies.LowestTtl) is { } most)
                all = all is { } before ? Wider(before, new HeartbeatHops(initTtl, least, most)) : new HeartbeatHops(initTtl, least, most);
        }
        return all;
    }

    private static HeartbeatHops Wider(HeartbeatHops one, HeartbeatHops other) =>
        new(Math.Max(one.InitTtl, other.InitTtl), Math.Min(one.LeastHops, other.LeastHops), Math.Max(one.MostHops, other.MostHops));
}
