using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;

namespace MeshTrace.Synthesis.Truth;

/// <summary>How far the requests of a press came at an element; higher is further. The furthest one names the cause of a loss.</summary>
internal enum Reach : byte
{
    OutOfRange,
    NotListening,
    Weak,
    Transmitting,
    Collided,
    LostAtNode,
    FriendQueueFull,
    ProxyFilter,
    NetKeyUnknown,
    IvIndexApart,
    Replay,
    ReplayListFull,
    SegmentsMissing,
    AppKeyUnknown,
    NoModel,
    NotSubscribed,
    NotBound,
    SameTransaction,
    Acted,
}

/// <summary>An element's answer to a press.</summary>
internal sealed class AnswerTruth
{
    internal required long SentUs { get; init; }

    /// <summary>When the requester had it, or null.</summary>
    internal long? ArrivedUs { get; set; }
}

/// <summary>What really became of one press.</summary>
internal sealed class PressTruth
{
    internal required int Index { get; init; }
    internal required long TimeUs { get; init; }
    internal required MeshNode Panel { get; init; }
    internal required MeshAddress Src { get; init; }
    internal required string Asks { get; init; }
    internal required bool Acknowledged { get; init; }

    /// <summary>Null where the press never became a message.</summary>
    internal MeshAddress? Dst { get; set; }
    internal byte? Tid { get; set; }
    internal byte? Ttl { get; set; }
    internal string? Opcode { get; set; }

    /// <summary>Why no message left the panel, or null.</summary>
    internal string? NotSent { get; set; }

    /// <summary>Elements that should act by the scenario without faults.</summary>
    internal List<MeshAddress> Meant { get; } = [];

    /// <summary>Elements that should act by the written description.</summary>
    internal List<MeshAddress> Expected { get; } = [];
    internal List<FloodTruth> Requests { get; } = [];
    internal SortedDictionary<ushort, long> Acted { get; } = [];
    internal SortedDictionary<ushort, AnswerTruth> Answers { get; } = [];

    /// <summary>Per element, or per node (its primary address) where the requests did not come as far as an element.</summary>
    private readonly Dictionary<ushort, Reach> _reach = [];

    /// <summary>Nodes whose misses on the radio are worth keeping: those that hold a meant or expected element.</summary>
    internal HashSet<int> TargetNodes { get; } = [];

    internal void Note(MeshAddress who, Reach reach)
    {
        if (!_reach.TryGetValue(who.Value, out var before) || reach > before)
            _reach[who.Value] = reach;
    }

    internal Reach ReachOf(MeshAddress element, MeshAddress node)
    {
        var byElement = _reach.GetValueOrDefault(element.Value);
        var byNode = _reach.GetValueOrDefault(node.Value);
        return byElement > byNode ? byElement : byNode;
    }
}
