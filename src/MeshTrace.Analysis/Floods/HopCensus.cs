using System.Runtime.InteropServices;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>
/// Counts hops and relays over the capture; fed flood by flood. Which first copies were surely heard is known at the end, when the repeats of all nodes
/// are: until then a sample of the delays is kept for each relay.
/// </summary>
internal sealed class HopCensus(FloodStreams streams, int receivers)
{
    private const int TtlValues = 128;

    /// <summary>The shortest mesh packet lasts longer: a relay cannot be faster (arithmetic over the Core Specification's packet layout).</summary>
    private const long ShortestDelayNs = 250_000;

    private readonly Dictionary<(ushort From, ushort Relay), int> _links = [];
    private readonly Dictionary<ushort, RelayCount> _relays = [];
    private readonly Dictionary<ushort, DelaySample> _samples = [];
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

    /// <param name="repeats">How often each node transmits, so that it is known which copies were its first.</param>
    public HopStatistics ToStatistics(NodeRepeats repeats)
    {
        var delays = new DurationHistogram?[TtlValues];
        foreach ((ushort relay, DelaySample sample) in _samples)
            sample.Judge(repeats, new MeshAddress(relay), _relays[relay], delays);
        int most = Array.FindLastIndex(_floodsByHops, floods => floods > 0);
        return new HopStatistics(
            [.. _links.Select(link => new RelayLink(new MeshAddress(link.Key.From), new MeshAddress(link.Key.Relay), link.Value)).OrderByDescending(link => link.Floods)],
            _relays.ToDictionary(relay => relay.Key, relay => relay.Value), [.. _floodsByHops[..(most + 1)]], delays);
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
        count?.HeardDelays.Add(delay);
        if (!named || emissions[parent].Confidence != SenderConfidence.Likely)
            return;
        MeshAddress from = streams.NodeAt(emissions[parent].Node);
        CollectionsMarshal.GetValueRefOrAddDefault(_links, (from.Value, relay.Value), out _)++;
        int hop = flood.OriginalTtl - emission.Ttl is { } hops and > 0 and < TtlValues ? hops : 0;
        (CollectionsMarshal.GetValueRefOrAddDefault(_samples, relay.Value, out _) ??= new DelaySample())
            .Add(new HeardDelay(delay, (byte)hop, from, emissions[parent].Node == srcNode, HeardEvents.Of(in emission), HeardEvents.Of(in emissions[parent])));
    }

    private static int PlaceOf(in Emission emission, int ttl) => (emission.Receiver * TtlValues) + ttl;

    private static int[] Free(int count)
    {
        int[] places = new int[count];
        Array.Fill(places, -1);
        return places;
    }
}
