using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>A distance between two nodes, in hops: 1 is straight from the one to the other.</summary>
/// <param name="Hops">TTL that suffices (for 1 hop also TTL 0).</param>
/// <param name="Floods">How many floods show it.</param>
/// <param name="Flood">Row of one of them.</param>
public readonly record struct HopDistance(int Hops, int Floods, int Flood);

/// <summary>
/// How far relays are from the originators they relay, by the TTL of the copies attributed to them: a copy at TTL n - h of a flood sent with TTL n
/// was made by a node h hops away (Mesh Protocol 1.1 §3.4.6.3).
/// </summary>
internal sealed class HopDistances
{
    /// <summary>Distances are counted up to here; longer ones count as this.</summary>
    private const int Longest = 15;

    /// <summary>A distance seen in fewer than so many of the floods is a lucky one, not the usual (ours).</summary>
    private const double Share = 0.1;

    private readonly Dictionary<(ushort Src, ushort Relay), Tally> _seen = [];
    private readonly Dictionary<ushort, List<ushort>> _firstRelays = [];

    internal HopDistances(CaptureHistory history)
    {
        var nearest = new Dictionary<ushort, int>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !flood.Src.IsUnicast || flood.HighestTtl == flood.LowestTtl || !history.OriginatorHeard(row))
                continue;
            MeshAddress src = history.Directory.NodeOf(flood.Src);
            nearest.Clear();
            foreach (FloodCopy copy in history.CopiesOf(row))
            {
                int hops = flood.HighestTtl - copy.Ttl;
                if (hops > 0 && history.SenderOf(copy) is { } relay && relay != src && (!nearest.TryGetValue(relay.Value, out int before) || hops < before))
                    nearest[relay.Value] = hops;
            }
            foreach ((ushort relay, int hops) in nearest)
            {
                if (!_seen.TryGetValue((src.Value, relay), out Tally? tally))
                    _seen.Add((src.Value, relay), tally = new Tally());
                tally.Add(Math.Min(hops, Longest), row);
            }
        }
        foreach (((ushort src, ushort relay), Tally tally) in _seen)
        {
            if (tally.Usual(Share).Hops != 1)
                continue;
            if (!_firstRelays.TryGetValue(src, out List<ushort>? relays))
                _firstRelays.Add(src, relays = []);
            relays.Add(relay);
        }
    }

    /// <summary>Usual distance of a relay from an originator, by its own copies; null where none was attributed.</summary>
    public HopDistance? Seen(MeshAddress src, MeshAddress relay) => _seen.TryGetValue((src.Value, relay.Value), out Tally? tally) ? tally.Usual(Share) : null;

    /// <summary>
    /// Distance of a node that does not relay: one hop more than the nearest relay that takes up this node's own messages. Links mostly hold both ways,
    /// and the two may hear each other without a relay: so it is an upper limit.
    /// </summary>
    public HopDistance? Estimate(MeshAddress src, MeshAddress node)
    {
        HopDistance? nearest = null;
        if (!_firstRelays.TryGetValue(node.Value, out List<ushort>? relays))
            return null;
        foreach (ushort relay in relays)
        {
            HopDistance? way = relay == src.Value ? new HopDistance(0, _seen[(node.Value, relay)].Floods, _seen[(node.Value, relay)].Flood) : Seen(src, new MeshAddress(relay));
            if (way is { } found && (nearest is null || found.Hops + 1 < nearest.Value.Hops))
                nearest = found with { Hops = found.Hops + 1 };
        }
        return nearest;
    }

    private sealed class Tally
    {
        private readonly int[] _counts = new int[Longest + 1];
        public int Floods { get; private set; }
        public int Flood { get; private set; }

        public void Add(int hops, int flood)
        {
            _counts[hops]++;
            Floods++;
            Flood = flood;
        }

        public HopDistance Usual(double share)
        {
            for (int hops = 0; hops <= Longest; hops++)
                if (_counts[hops] > 0 && _counts[hops] >= share * Floods)
                    return new HopDistance(hops, Floods, Flood);
            return default;
        }
    }
}
