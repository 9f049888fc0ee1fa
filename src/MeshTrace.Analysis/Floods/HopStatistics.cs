using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>One node relayed what another one sent, as the order of their copies tells.</summary>
/// <param name="From">Sent the copy with one TTL more, first of all that were heard with it: a guess where several were.</param>
/// <param name="Relay">Sent it on.</param>
/// <param name="Floods">How often.</param>
public readonly record struct RelayLink(MeshAddress From, MeshAddress Relay, int Floods);

/// <summary>What one node was heard to relay.</summary>
public sealed class RelayCount
{
    /// <summary>Relayed PDUs of which a copy was attributed to it, one for each receiver that heard it.</summary>
    public int Emissions { get; internal set; }

    /// <summary>
    /// From the first copy with one TTL more, by any node, to the first one of its own, at the same receiver, where both were surely heard: no repetition is
    /// taken for them. Empty where that was so too seldom: the delay is not known.
    /// </summary>
    public DurationHistogram Delays { get; } = new();

    /// <summary>The same between the first copies that were heard, first or not: off by the repeat interval where one was missed.</summary>
    public DurationHistogram HeardDelays { get; } = new();
}

/// <summary>
/// Hops over the whole capture. A delay is the time of a relay's first copy less that of the first copy with one TTL more, both at our receiver, and only
/// where what was heard of both shows that no earlier copy was missed.
/// </summary>
public sealed class HopStatistics
{
    private readonly Dictionary<ushort, RelayCount> _relays;
    private readonly DurationHistogram?[] _delays;

    internal HopStatistics(IReadOnlyList<RelayLink> links, Dictionary<ushort, RelayCount> relays, IReadOnlyList<int> floodsByHops, DurationHistogram?[] delays)
    {
        (Links, FloodsByHops, _relays, _delays) = (links, floodsByHops, relays, delays);
        Relays = [.. relays.Keys.Order().Select(relay => new MeshAddress(relay))];
    }

    internal static HopStatistics None { get; } = new([], [], [], []);

    /// <summary>Who relays whom, most frequent first; only between nodes that are named.</summary>
    public IReadOnlyList<RelayLink> Links { get; }

    /// <summary>Nodes that were heard to relay.</summary>
    public IReadOnlyList<MeshAddress> Relays { get; }

    /// <summary>Index = most hops seen of a flood (0: only the original), value = how many floods; floods whose original TTL is unknown are left out.</summary>
    public IReadOnlyList<int> FloodsByHops { get; }

    /// <summary>What a node was heard to relay, or null.</summary>
    public RelayCount? RelayOf(MeshAddress node) => _relays.GetValueOrDefault(node.Value);

    /// <summary>Delays of the hop with this number (1: first relay), or null where none is known.</summary>
    public DurationHistogram? DelaysOfHop(int hop) => (uint)hop < (uint)_delays.Length ? _delays[hop] : null;
}
