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
    private readonly EyeGlance _glance;

    internal EyeView(in EyeGlance glance) => _glance = glance;

    /// <summary>Row of the press.</summary>
    public int Press => _glance.Press;
    public MeshAddress Element => _glance.Element;

    /// <summary>Primary address of its node.</summary>
    public MeshAddress Node => _glance.Node;
    public EyeVerdict Verdict => _glance.Verdict;

    /// <summary>The first step that rejects, else none.</summary>
    public ReceiveStep Step => _glance.Step;

    /// <summary>The node was in no network then: reset, or not provisioned yet. Then the network key rejects.</summary>
    public bool OutOfNetwork => _glance.OutOfNetwork;

    /// <summary>Why nothing can be told, else none.</summary>
    public EyeDoubt Doubt => _glance.Doubt;

    /// <summary>Of the verdict; without meaning where nothing can be told.</summary>
    public Confidence Confidence => _glance.Confidence;

    /// <summary>All steps, in order.</summary>
    public IReadOnlyList<StepView> Steps { get; internal init; } = [];

    /// <summary>Rows that the verdict rests on, the press first.</summary>
    public IReadOnlyList<Evidence> Evidence => _glance.Evidence;

    /// <summary>NetKey and AppKey index of the request, or null where they are not known.</summary>
    public int? NetKeyIndex { get; internal init; }
    public int? AppKeyIndex => _glance.AppKeyIndex;

    /// <summary>The server model that should act, where the element has one.</summary>
    public ModelInstance? Model => _glance.Model;

    /// <summary>TTL the request was sent with, or null where the originator was not heard and no setting tells it.</summary>
    public int? TtlSent => _glance.TtlSent;

    /// <summary>Lowest TTL heard of it anywhere.</summary>
    public int LowestTtl { get; internal init; }

    /// <summary>TTL that the way from the sender to this node needs, as other traffic shows; null where nothing does.</summary>
    public int? TtlNeeded => _glance.TtlNeeded;

    /// <summary>Messages of others are known to come to this node with more TTL than this one had; told where nothing shows how far it is.</summary>
    public bool OthersReach => _glance.OthersReach;

    /// <summary>Highest SEQ of the requests.</summary>
    public uint Seq => _glance.Seq;

    /// <summary>Highest SEQ from this source that the node is known to have received before, or null.</summary>
    public uint? SeqReceivedBefore => _glance.SeqReceivedBefore;

    /// <summary>Chance that an answer was on the air and missed by the receivers, or null where it is not known.</summary>
    public double? MissChance { get; internal init; }

    /// <summary>What is known of one step.</summary>
    public StepView this[ReceiveStep step] => Steps.FirstOrDefault(one => one.Step == step);
}
