using MeshTrace.Analysis.Floods;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Repeats;

/// <summary>Counts how often and how far apart each node repeats its PDUs and those it relays; fed flood by flood.</summary>
internal sealed class RepeatCensus(FloodStreams streams, RadioSettings settings)
{
    private readonly Dictionary<ushort, RepeatCount> _own = [], _relayed = [];

    // By node row: a changed setting begins a new count.
    private readonly long[] _ownSince = Since(streams, settings.LastNetworkTransmitChange), _relayedSince = Since(streams, settings.LastRelayChange);

    public void Take(in FloodRow flood, int srcNode, ReadOnlySpan<Emission> emissions)
    {
        if (flood.Credentials == Credentials.Friendship)
            return;     // sent once, whatever the states say (Mesh Protocol 1.1 §3.4.5.4)
        foreach (ref readonly Emission emission in emissions)
        {
            if (emission.Confidence != SenderConfidence.Likely || emission.Events == 0)
                continue;
            bool own = emission.Node == srcNode;
            if (emission.FirstNs >= (own ? _ownSince : _relayedSince)[emission.Node])
                CountOf(own ? _own : _relayed, emission.Node).Add(in emission);
        }
    }

    public NodeRepeats ToRepeats() => new(settings, _own, _relayed);

    private RepeatCount CountOf(Dictionary<ushort, RepeatCount> counts, int node)
    {
        ushort address = streams.NodeAt(node).Value;
        if (!counts.TryGetValue(address, out RepeatCount? count))
            counts.Add(address, count = new RepeatCount());
        return count;
    }

    private static long[] Since(FloodStreams streams, Func<MeshAddress, long> lastChange)
    {
        long[] since = new long[streams.Nodes];
        for (int node = 0; node < since.Length; node++)
            since[node] = lastChange(streams.NodeAt(node));
        return since;
    }
}
