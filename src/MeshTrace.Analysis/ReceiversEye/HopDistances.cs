using System.Collections.Concurrent;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>A distance between two nodes, in hops: 1 is straight from the one to the other.</summary>
/// <param name="Hops">TTL that suffices (for 1 hop also TTL 0).</param>
/// <param name="Floods">How many floods show it.</param>
/// <param name="Flood">Row of one of them.</param>
public readonly record struct HopDistance(int Hops, int Floods, int Flood);

/// <summary>
/// How far relays are from the originators they relay, by the TTL of the copies attributed to them: a copy at TTL n - h of a flood sent with TTL n
/// was made by a node h hops away (Mesh Protocol 1.1 §3.4.6.3). Where the original was not heard, its TTL is known if one setting alone tells it.
/// </summary>
internal sealed class HopDistances
{
    /// <summary>Distances are counted up to here; longer ones count as this.</summary>
    private const int Longest = 15;

    /// <summary>A distance seen in fewer than so many of the floods is a lucky one, not the usual (ours).</summary>
    private const double Share = 0.1;

    /// <summary>Of a relay from an originator.</summary>
    private readonly Dictionary<AddressPair, HopDistance> _seen = [];

    private readonly Dictionary<ushort, List<(ushort Other, HopDistance Way)>> _ways = [];
    private readonly HashSet<ushort> _relays = [];

    /// <summary>Made when they are asked for, by several threads at once.</summary>
    private readonly ConcurrentDictionary<ushort, Dictionary<ushort, HopDistance>> _from = [];
    private readonly CaptureHistory _history;

    /// <summary>How many floods of a node were heard over so many relays at the most, by that number; made when it is asked for, the same by each thread that asks.</summary>
    private Dictionary<ushort, int[]>? _carried;

    internal HopDistances(CaptureHistory history)
    {
        _history = history;
        var nearest = new Dictionary<ushort, int>();
        var tallies = new Dictionary<AddressPair, Tally>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !flood.Src.IsUnicast || flood.OriginalTtl is not { } sent || sent == flood.LowestTtl)
                continue;
            MeshAddress src = history.Directory.NodeOf(flood.Src);
            nearest.Clear();
            foreach (FloodCopy copy in history.CopiesOf(row))
            {
                int hops = sent - copy.Ttl;
                if (hops > 0 && history.SenderOf(copy) is { } relay && relay != src && (!nearest.TryGetValue(relay.Value, out int before) || hops < before))
                    nearest[relay.Value] = hops;
            }
            foreach ((ushort relay, int hops) in nearest)
            {
                var pair = new AddressPair(src.Value, relay);
                if (!tallies.TryGetValue(pair, out Tally? tally))
                    tallies.Add(pair, tally = new Tally());
                tally.Add(Math.Min(hops, Longest), row);
            }
        }
        _seen.EnsureCapacity(tallies.Count);
        foreach ((AddressPair pair, Tally tally) in tallies)
        {
            HopDistance way = tally.Usual(Share);
            _seen.Add(pair, way);
            _relays.Add(pair.To);
            Add(pair.From, pair.To, way);
            Add(pair.To, pair.From, way);       // links mostly hold both ways
        }
        foreach (List<(ushort Other, HopDistance Way)> ways in _ways.Values)
            ways.TrimExcess();
    }

    /// <summary>Usual distance of a relay from an originator, by its own copies; null where none was attributed.</summary>
    public HopDistance? Seen(MeshAddress src, MeshAddress relay) => _seen.TryGetValue(new AddressPair(src, relay), out HopDistance way) ? way : null;

    /// <summary>
    /// Shortest way from one node to another over the relays heard: a relay hears whose messages it takes up, and mostly the other way round. Two nodes may
    /// hear each other without that being seen, so it is an upper limit. Its floods are those of its least seen part.
    /// </summary>
    public HopDistance? Estimate(MeshAddress src, MeshAddress node)
    {
        if (!_from.TryGetValue(src.Value, out Dictionary<ushort, HopDistance>? distances))
            distances = _from.GetOrAdd(src.Value, From(src.Value));
        return distances.TryGetValue(node.Value, out HopDistance distance) ? distance : null;
    }

    /// <summary>How many floods of a node were heard over so many relays or more: by the TTL of their copies, of Heartbeats by their InitTTL too.</summary>
    /// <param name="node">Primary address.</param>
    /// <param name="relays">0 or more.</param>
    public int Carried(MeshAddress node, int relays)
    {
        _carried ??= CarriedOfAll();
        int floods = 0;
        if (_carried.TryGetValue(node.Value, out int[]? counts))
            for (int many = relays; many <= Longest; many++)
                floods += counts[many];
        return floods;
    }

    private Dictionary<ushort, int[]> CarriedOfAll()
    {
        var carried = new Dictionary<ushort, int[]>();
        for (int row = 0; row < _history.Floods.Count; row++)
        {
            ref FloodRow flood = ref _history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !flood.Src.IsUnicast)
                continue;
            int relays = flood.OriginalTtl is { } sent ? sent - flood.LowestTtl : 0;
            if (flood.Message is { } message && HeartbeatCensus.HopsOf(_history, message) is { } hops)
                relays = Math.Max(relays, hops.MostHops - 1);
            if (relays <= 0)
                continue;
            ushort node = _history.Directory.NodeOf(flood.Src).Value;
            if (!carried.TryGetValue(node, out int[]? counts))
                carried.Add(node, counts = new int[Longest + 1]);
            counts[Math.Min(relays, Longest)]++;
        }
        return carried;
    }

    private Dictionary<ushort, HopDistance> From(ushort src)
    {
        var found = new Dictionary<ushort, HopDistance>();
        var waiting = new PriorityQueue<(ushort Node, HopDistance Way), int>();
        waiting.Enqueue((src, new HopDistance(0, int.MaxValue, -1)), 0);
        while (waiting.TryDequeue(out (ushort Node, HopDistance Way) next, out _))
        {
            if (!found.TryAdd(next.Node, next.Way) || (next.Node != src && !_relays.Contains(next.Node)))
                continue;       // only a relay leads further
            foreach ((ushort other, HopDistance way) in _ways.GetValueOrDefault(next.Node) ?? [])
                if (!found.ContainsKey(other))
                    waiting.Enqueue((other, Joined(next.Way, way)), next.Way.Hops + way.Hops);
        }
        return found;
    }

    private static HopDistance Joined(HopDistance before, HopDistance way) =>
        before.Floods <= way.Floods ? before with { Hops = before.Hops + way.Hops } : way with { Hops = before.Hops + way.Hops };

    private void Add(ushort node, ushort other, HopDistance way)
    {
        if (!_ways.TryGetValue(node, out List<(ushort Other, HopDistance Way)>? ways))
            _ways.Add(node, ways = []);
        ways.Add((other, way));
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
