using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>
/// Which node uses which advertiser address, learnt from the copies at the originator's TTL. The address is not part of the Network PDU and many
/// stacks change it; where one address does not clearly belong to one node, nobody is named.
/// </summary>
public sealed class Senders
{
    /// <summary>Of the floods in which an address is heard at the highest TTL, so many must be of one node (threshold ours).</summary>
    private const double ClearMajority = 0.8;

    private readonly Dictionary<ulong, MeshAddress> _owners = [];
    private readonly Dictionary<ushort, List<ulong>> _byNode = [];

    internal Senders(CaptureHistory history, NodeDirectory nodes)
    {
        var firsts = new Dictionary<(ulong Advertiser, ushort Node), int>();
        var totals = new Dictionary<ulong, int>();
        var heardInFlood = new HashSet<ulong>();
        for (int flood = 0; flood < history.Floods.Count; flood++)
        {
            ref FloodRow row = ref history.Floods[flood];
            if (row.Credentials != Credentials.Flooding)
                continue;       // a Friend repeats under friendship credentials what others originated
            MeshAddress node = nodes.NodeOf(row.Src);
            heardInFlood.Clear();
            foreach (FloodCopy copy in history.CopiesOf(flood))
            {
                ref FrameRow frame = ref history.Frames[copy.Frame];
                if (copy.Ttl != row.HighestTtl || !frame.HasAdvertiser || !heardInFlood.Add(frame.Advertiser))
                    continue;
                firsts[(frame.Advertiser, node.Value)] = firsts.GetValueOrDefault((frame.Advertiser, node.Value)) + 1;
                totals[frame.Advertiser] = totals.GetValueOrDefault(frame.Advertiser) + 1;
            }
        }
        foreach (((ulong advertiser, ushort node), int count) in firsts)
        {
            if (count < ClearMajority * totals[advertiser])
                continue;
            _owners[advertiser] = new MeshAddress(node);
            if (!_byNode.TryGetValue(node, out List<ulong>? own))
                _byNode.Add(node, own = []);
            own.Add(advertiser);
        }
    }

    /// <summary>The node that clearly uses an advertiser address, or null.</summary>
    public MeshAddress? OwnerOf(ulong advertiser) => _owners.TryGetValue(advertiser, out MeshAddress owner) ? owner : null;

    /// <summary>Advertiser addresses of a node, in the order met.</summary>
    public IReadOnlyList<ulong> AdvertisersOf(MeshAddress node) => _byNode.TryGetValue(node.Value, out List<ulong>? own) ? own : [];
}
