using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>An element that is asked about press after press, with what was looked up about it: once for the element, and once for each way on which it is pressed.</summary>
internal sealed class Listener
{
    /// <summary>Primary address of its node.</summary>
    public required MeshAddress Node { get; init; }
    public required NodeModel Model { get; init; }
    public required NodeTrace Trace { get; init; }

    /// <summary>How much of its node is heard, or null where that is not known.</summary>
    public required ShareInterval? HeardShare { get; init; }

    /// <summary>Of the press before: its way, and what the steps of the access layer gave.</summary>
    public PressWay? Way { get; set; }
    public ReceiveProcedure.AccessAnswer? Access { get; set; }
}

/// <summary>From whom, to which address, for which Status and under which AppKey (row in <see cref="Keys.KeyRing.AppKeys"/>) an element is pressed.</summary>
internal readonly record struct PressedBy(MeshAddress Src, MeshAddress Dst, uint Status, int AppKey);

/// <summary>What is known of the way from one who presses to one element.</summary>
internal sealed class PressWay
{
    public required PressedBy By { get; init; }

    /// <summary>The message with the lowest TTL that got from node to node.</summary>
    public required ReceptionProof? LeastTtl { get; init; }

    /// <summary>Distance by the relay's own copies, and as it is estimated.</summary>
    public required HopDistance? Seen { get; init; }
    public required HopDistance? Estimate { get; init; }

    /// <summary>What came of its presses, or null where none tells.</summary>
    public required TtlTallies? Tallies { get; init; }

    /// <summary>What the node received from the source.</summary>
    public required RisingProofs? Proofs { get; init; }

    /// <summary>Where the search in them ended the last time.</summary>
    public int NearProof;

    /// <summary>When the element acted on such a request, or null where it never did.</summary>
    public required List<long>? Acts { get; init; }
}
