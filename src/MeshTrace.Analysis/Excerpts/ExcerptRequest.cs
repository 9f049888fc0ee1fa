using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Excerpts;

/// <summary>What an excerpt is to be about: a press, a time, or a node.</summary>
public sealed record ExcerptRequest
{
    /// <summary>Row of a press, or null.</summary>
    public int? Press { get; init; }

    /// <summary>First moment, or null for the beginning of the capture.</summary>
    public long? FromNs { get; init; }

    /// <summary>Last moment, or null for the end of the capture.</summary>
    public long? UntilNs { get; init; }

    /// <summary>Any element of a node, or null.</summary>
    public MeshAddress? Node { get; init; }
}
