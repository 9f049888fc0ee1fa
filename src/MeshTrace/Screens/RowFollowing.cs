using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Reports.Records;

namespace MeshTrace.Screens;

/// <summary>Finds the rows of one history in another one of the same run, which has more at its end and perhaps less at its beginning.</summary>
internal sealed class RowFollowing(CaptureHistory before, CaptureHistory now)
{
    /// <summary>The same thing in the new history, or null where it has left it or cannot be told from others.</summary>
    public RecordPlace? Of(RecordPlace? place)
    {
        int? row = place?.Kind switch
        {
            RecordKind.Press => Press(place.Value.Row),
            RecordKind.Flood => Flood(place.Value.Row),
            RecordKind.Transfer => Transfer(place.Value.Row),
            RecordKind.Frame => Frame(place.Value.Row),
            RecordKind.Node => Node(place.Value.Row),
            _ => null,
        };
        return row is { } found ? new RecordPlace(place!.Value.Kind, found) : null;
    }

    public int? Press(int? row)
    {
        if (row is not { } at)
            return null;
        Press press = before.Presses[at];
        MessageRow first = before.Messages[press.Messages[0]];
        return Nearest(at, now.Presses.Count, candidate =>
        {
            Press other = now.Presses[candidate];
            MessageRow message = now.Messages[other.Messages[0]];
            return message.Src == first.Src && message.Seq == first.Seq && message.IvIndex == first.IvIndex && other.Dst == press.Dst && other.Opcode == press.Opcode;
        });
    }

    public int? Flood(int? row)
    {
        if (row is not { } at)
            return null;
        FloodRow flood = before.Floods[at];
        int? found = null;
        Int128 apart = Int128.MaxValue;
        for (int candidate = 0; candidate < now.Floods.Count; candidate++)
        {
            ref FloodRow other = ref now.Floods[candidate];
            if (other.Seq != flood.Seq || other.Src != flood.Src || other.IvIndex != flood.IvIndex || other.Dst != flood.Dst || other.Ctl != flood.Ctl || other.Credentials != flood.Credentials)
                continue;
            // The same PDU long after is another flood.
            Int128 difference = Int128.Abs((Int128)other.FirstTimeNs - flood.FirstTimeNs);
            if (difference < apart)
                (found, apart) = (candidate, difference);
        }
        return found;
    }

    public int? Transfer(int? row)
    {
        if (row is not { } at)
            return null;
        Transfer transfer = before.Transfers[at];
        return Nearest(at, now.Transfers.Count, candidate =>
        {
            Transfer other = now.Transfers[candidate];
            return other.Src == transfer.Src && other.Dst == transfer.Dst && other.Seq == transfer.Seq && other.IvIndex == transfer.IvIndex && other.IsControl == transfer.IsControl;
        });
    }

    public int? Frame(int? row)
    {
        if (row is not { } at)
            return null;
        FrameRow frame = before.Frames[at];
        return Nearest(at, now.Frames.Count, candidate => now.Frames[candidate].FileOffset == frame.FileOffset && now.Frames[candidate].Receiver == frame.Receiver);
    }

    /// <summary>A network that no key opens, by its NID.</summary>
    public int? UnknownNetwork(int row)
    {
        for (int at = 0; at < now.UnknownNids.Count; at++)
            if (now.UnknownNids[at].Nid == before.UnknownNids[row].Nid)
                return at;
        return null;
    }

    private int? Node(int row)
    {
        int at = 0;
        foreach (Analysis.Nodes.NodeRecord node in now.Nodes)
        {
            if (node.Unicast == before.Nodes[row].Unicast)
                return at;
            at++;
        }
        return null;
    }

    /// <summary>The row that matches nearest to where it was: rows move when others leave before them.</summary>
    private static int? Nearest(int at, int count, Func<int, bool> matches)
    {
        for (int step = 0; step <= Math.Max(at, count); step++)
        {
            if (at - step >= 0 && at - step < count && matches(at - step))
                return at - step;
            if (step > 0 && at + step < count && matches(at + step))
                return at + step;
        }
        return null;
    }
}
