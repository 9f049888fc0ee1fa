using MeshTrace.Protocol.Link;

namespace MeshTrace.Synthesis.Load;

/// <summary>A large capture to measure with: how much of what. Equal plans give equal octets.</summary>
public sealed record LoadPlan
{
    /// <summary>Frames in the capture, exactly.</summary>
    public required long Frames { get; init; }
    public ulong Seed { get; init; } = 1;

    /// <summary>Share of the frames that is advertising without any mesh content.</summary>
    public double UnrelatedShare { get; init; } = 0.7;

    /// <summary>Networks (subnets with an AppKey each) that the description knows.</summary>
    public int Networks { get; init; } = 4;

    /// <summary>Networks that nobody has the keys of.</summary>
    public int ForeignNetworks { get; init; } = 2;

    /// <summary>Nodes of each network: one panel for each nine lamps.</summary>
    public int NodesPerNetwork { get; init; } = 50;

    /// <summary>Mean number of captured copies of one Network PDU, over all TTLs.</summary>
    public int CopiesPerFlood { get; init; } = 8;

    /// <summary>Further AppKeys that share the AID of the first network's AppKey (a worst case for trying keys).</summary>
    public int AppKeysSharingAid { get; init; }

    /// <summary>Captured frames a second, on average: sets how much time the capture covers.</summary>
    public int FramesPerSecond { get; init; } = 250;

    /// <summary>251, 256 or 272.</summary>
    public LinkType LinkType { get; init; } = LinkType.LeLinkLayerWithRadioHeader;
}

/// <summary>What a load capture holds.</summary>
/// <param name="Frames">All frames.</param>
/// <param name="MeshFrames">Frames with a Network PDU, copies counted.</param>
/// <param name="BeaconFrames">Frames with a secure network beacon.</param>
/// <param name="UnrelatedFrames">Frames without mesh content.</param>
/// <param name="Floods">Distinct Network PDUs, each counted once over its TTLs.</param>
/// <param name="KnownFloods">Those of the networks that the description knows.</param>
/// <param name="DistinctPdus">Distinct Network PDU octets: a PDU differs at each TTL.</param>
/// <param name="Presses">Presses in known networks.</param>
/// <param name="Octets">Size of the capture file.</param>
public sealed record LoadSummary(
    long Frames, long MeshFrames, long BeaconFrames, long UnrelatedFrames, long Floods, long KnownFloods, long DistinctPdus, long Presses,
        long Octets);
