using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Nodes;

/// <summary>One mesh node: everything known or heard of it.</summary>
public sealed class NodeRecord
{
    public required MeshAddress Unicast { get; init; }

    /// <summary>Number of elements, or null where unknown.</summary>
    public int? Elements { get; internal set; }

    /// <summary>Name from the description, control characters removed, or null.</summary>
    public string? Name { get; internal set; }

    /// <summary>True if the description names it.</summary>
    public bool Described { get; internal set; }

    /// <summary>Advertiser addresses that sent this node's own floods at the originator's TTL.</summary>
    public List<ulong> Advertisers { get; } = [];
    public int FloodsSent { get; internal set; }

    /// <summary>Floods of others of which a copy was attributed to this node.</summary>
    public int FloodsRelayed { get; internal set; }
    public long? FirstTimeNs { get; internal set; }
    public long? LastTimeNs { get; internal set; }
    public uint? SeqFirst { get; internal set; }
    public uint? SeqLast { get; internal set; }

    /// <summary>SEQ numbers used but not heard.</summary>
    public int? SeqGaps { get; internal set; }

    /// <summary>0..1, counted in advertising events; null where it cannot be known.</summary>
    public double? HeardShare { get; internal set; }
    public double? CopiesPerPdu { get; internal set; }
    public int? RssiMedian { get; internal set; }
}
