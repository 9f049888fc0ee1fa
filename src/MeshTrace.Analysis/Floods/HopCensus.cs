using System.Runtime.InteropServices;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>Counts hops and relays over the capture; fed flood by flood.</summary>
internal sealed class HopCensus(FloodStreams streams, int receivers)
{
    private const int TtlValues = 128;

    /// <summary>The shortest mesh packet lasts longer: a relay cannot be faster (arithmetic over the Core Specification's packet layout).</summary>
    private const long ShortestDelayNs = 250_000;

    private readonly Dictionary<(ushort From, ushort Relay), int> _links = [];
    private readonly Dictionary<ushort, RelayCount> _relays = [];
    private readonly DurationHistogram?[] _delays = new DurationHistogram?[TtlValues];
    private readonly int[] _floodsByHops = new int[TtlValues];

    // Of the flood at hand: the earliest emission at each TTL, for each receiver.
    private readonly int[] _earliest = Free(TtlValues * Math.Max(receivers, 1));
    private readonly List<int> _used = [];

    public void Take(in FloodRow flood, int srcNode, ReadOnlySpan<Emission> emissions)
    {
        if (flood.HeardOnAir && flood.OriginalTtl is { } sent)
            _floodsByHops[Math.Clamp(sent - flood.LowestTtl, 0, TtlValues - 1)]++;
        for (int at = 0; at < emissions.Length; at++)
        {
            ref readonly Emission emission = ref emissions[at];
            ref int earliest = ref _earliest[PlaceOf(in emission, emission.Ttl)];
            if (earliest < 0)
                _used.Add(PlaceOf(in emission, emission.Ttl));
            if (earliest < 0 || emission.FirstNs < emissions[earliest].FirstNs)
                earliest = at;
        }
        for (int at = 0; at < emissions.Length; at++)
            TakeRelay(in flood, srcNode, in emissions[at], emissions);
        foreach (int place in _used)
            _earliest[place] = -1;
        _used.Clear();
    }

    public HopStatistics ToStatistics()
    {
        int most = Array.FindLastIndex(_floodsByHops, floods => floods > 0);
        return new HopStatistics(
            [.. _links.Select(link => new RelayLink(new MeshAddress(link.Key.From), new MeshAddress(link.Key.Relay), link.Value)).OrderByDescending(link => link.Floods)],
            _relays.ToDictionary(relay => relay.Key, relay => relay.Value), [.. _floodsByHops[..(most + 1)]], _delays);
    }

    private void TakeRelay(in FloodRow flood, int srcNode, in Emission emission, ReadOnlySpan<Emission> emissions)
    {
        if (emission.Ttl + 1 >= TtlValues)
            return;
        bool named = emission.Confidence == SenderConfidence.Likely && emission.Node != srcNode;
        MeshAddress relay = named ? streams.NodeAt(emission.Node) : MeshAddress.Unassigned;
        RelayCount? count = named ? CollectionsMarshal.GetValueRefOrAddDefault(_relays, relay.Value, out _) ??= new RelayCount() : null;
        if (count is not null)
            count.Emissions++;
        int parent = _earliest[PlaceOf(in emission, emission.Ttl + 1)];
        if (parent < 0 || emission.FirstNs == long.MaxValue || emissions[parent].FirstNs == long.MaxValue)
            return;
        long delay = emission.FirstNs - emissions[parent].FirstNs;
        if (delay < ShortestDelayNs)
            return;     // the copy that it relayed was missed
        count?.Delays.Add(delay);
        if (flood.OriginalTtl - emission.Ttl is { } hop and > 0 and < TtlValues)
            (_delays[hop] ??= new DurationHistogram()).Add(delay);
        if (named && emissions[parent].Confidence == SenderConfidence.Likely)
            CollectionsMarshal.GetValueRefOrAddDefault(_links, (streams.NodeAt(emissions[parent].Node).Value, relay.Value), out _)++;
    }

    private static int PlaceOf(in Emission emission, int ttl) => (emission.Receiver * TtlValues) + ttl;

    private static int[] Free(int count)
    {
        int[] places = new int[count];
        Array.Fill(places, -1);
        return places;
    }
}
