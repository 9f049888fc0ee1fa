using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>One step as played.</summary>
/// <param name="Step">Which one.</param>
/// <param name="Outcome">Whether the message passes it.</param>
/// <param name="From">Where that is known from.</param>
/// <param name="Confidence">Of a rejection.</param>
/// <param name="Evidence">A row it rests on, or null.</param>
public readonly record struct StepView(ReceiveStep Step, StepOutcome Outcome, KnownFrom From, Confidence Confidence = Confidence.Possible, Evidence? Evidence = null);

/// <summary>A press as one element must have seen it.</summary>
public sealed class EyeView
{
    /// <summary>Row of the press.</summary>
    public required int Press { get; init; }
    public required MeshAddress Element { get; init; }

    /// <summary>Primary address of its node.</summary>
    public required MeshAddress Node { get; init; }
    public EyeVerdict Verdict { get; internal set; }

    /// <summary>The first step that rejects, else none.</summary>
    public ReceiveStep Step { get; internal set; }

    /// <summary>The node was in no network then: reset, or not provisioned yet. Then the network key rejects.</summary>
    public bool OutOfNetwork { get; internal set; }

    /// <summary>Why nothing can be told, else none.</summary>
    public EyeDoubt Doubt { get; internal set; }

    /// <summary>Of the verdict; without meaning where nothing can be told.</summary>
    public Confidence Confidence { get; internal set; }

    /// <summary>All steps, in order.</summary>
    public IReadOnlyList<StepView> Steps { get; internal set; } = [];

    /// <summary>Rows that the verdict rests on, the press first.</summary>
    public IReadOnlyList<Evidence> Evidence { get; internal set; } = [];

    /// <summary>NetKey and AppKey index of the request, or null where they are not known.</summary>
    public int? NetKeyIndex { get; internal set; }
    public int? AppKeyIndex { get; internal set; }

    /// <summary>The server model that should act, where the element has one.</summary>
    public ModelInstance? Model { get; internal set; }

    /// <summary>TTL the request was sent with, or null where the originator was not heard and no setting tells it.</summary>
    public int? TtlSent { get; internal set; }

    /// <summary>Lowest TTL heard of it anywhere.</summary>
    public int LowestTtl { get; internal set; }

    /// <summary>TTL that the way from the sender to this node needs, as other traffic shows; null where nothing does.</summary>
    public int? TtlNeeded { get; internal set; }

    /// <summary>Messages of others are known to come to this node with more TTL than this one had; told where nothing shows how far it is.</summary>
    public bool OthersReach { get; internal set; }

    /// <summary>Highest SEQ of the requests.</summary>
    public uint Seq { get; internal set; }

    /// <summary>Highest SEQ from this source that the node is known to have received before, or null.</summary>
    public uint? SeqReceivedBefore { get; internal set; }

    /// <summary>Chance that an answer was on the air and missed by the receivers, or null where it is not known.</summary>
    public double? MissChance { get; internal set; }

    /// <summary>What is known of one step.</summary>
    public StepView this[ReceiveStep step] => Steps.FirstOrDefault(one => one.Step == step);
}
