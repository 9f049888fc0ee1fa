using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Truth;

/// <summary>One advertising event that carried a PDU of the network.</summary>
internal sealed class EventTruth(long timeUs, Station by, byte ttl, bool friendship = false)
{
    /// <summary>Sent under the credentials of a friendship.</summary>
    internal bool Friendship { get; } = friendship;
    internal long TimeUs { get; } = timeUs;
    internal Station By { get; } = by;
    internal byte Ttl { get; } = ttl;

    /// <summary>Bit 3 r + (channel - 37): receiver r captured it there with a right CRC.</summary>
    internal ulong Heard { get; set; }

    /// <summary>The same bits for captures with a wrong CRC.</summary>
    internal ulong Damaged { get; set; }
}

/// <summary>Something that was sent, with every advertising event that carried it.</summary>
internal abstract class EmissionTruth
{
    internal List<EventTruth> Events { get; } = [];
}

/// <summary>One Network PDU as the whole network carried it.</summary>
internal sealed class FloodTruth : EmissionTruth
{
    internal required int Index { get; init; }
    internal required uint IvIndex { get; init; }
    internal required MeshAddress Src { get; init; }
    internal required MeshAddress Dst { get; init; }
    internal required uint Seq { get; init; }
    internal required bool Ctl { get; init; }
    internal required byte Ttl { get; init; }
    internal required string What { get; init; }
    internal int NetKeyIndex { get; init; }
    internal PressTruth? Press { get; init; }
    internal TransferTruth? Transfer { get; init; }
    internal int? SegO { get; init; }

    /// <summary>Each time that it went over a connection of a phone.</summary>
    internal List<GattTruth> OverGatt { get; } = [];

    /// <summary>A proxy that had it from a phone did not put it on the air.</summary>
    internal bool HeldByProxy { get; set; }

    /// <summary>Relays that had it at a TTL too low to relay it.</summary>
    internal List<MeshNode> StoppedByTtl { get; } = [];

    /// <summary>Nodes that were meant to relay it but have the feature off.</summary>
    internal List<MeshNode> RelayWasOff { get; } = [];
}

/// <summary>What a beacon of the network tells those that hold the key it is secured with.</summary>
internal sealed record BeaconContent(SubnetKeys SecuredBy, uint IvIndex, bool IvUpdate, bool KeyRefresh);

internal sealed class BeaconTruth : EmissionTruth
{
    internal required string Kind { get; init; }
    internal required MeshNode By { get; init; }

    /// <summary>Null for a beacon that tells no state of the network.</summary>
    internal BeaconContent? Content { get; init; }
}

/// <summary>One segmented message.</summary>
internal sealed class TransferTruth
{
    internal required int Index { get; init; }
    internal required MeshAddress Src { get; init; }
    internal required MeshAddress Dst { get; init; }
    internal required uint Seq { get; init; }
    internal required int Segments { get; init; }
    internal required string What { get; init; }
    internal required long StartUs { get; init; }
    internal long? EndUs { get; set; }

    /// <summary>acknowledged, sent (to a group), given-up, cancelled, cut-off (the scenario ended).</summary>
    internal string Outcome { get; set; } = "cut-off";

    /// <summary>Segments that the sender knew to have arrived when it stopped.</summary>
    internal int AcknowledgedSegments { get; set; }
    internal List<FloodTruth> Sent { get; } = [];
    internal List<(FloodTruth Flood, MeshAddress From, uint Block)> Acks { get; } = [];

    /// <summary>Elements that had all segments, and when.</summary>
    internal List<(MeshAddress Element, long TimeUs)> Arrived { get; } = [];
}
