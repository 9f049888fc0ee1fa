using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.History;

/// <summary>What is worked out when somebody asks for it: the receiver's eye and what it looks with.</summary>
public sealed partial class CaptureHistory
{
    private ReceptionProofs? _receptionProofs;
    private NodeTraces? _nodeTraces;
    private ReceiveProcedure? _receiveProcedure;
    private HopDistances? _hopDistances;
    private ActsSeen? _actsSeen;
    private CommissioningStory? _commissioning;
    private Func<Press, MeshAddress, bool> _owesAnAnswer = (press, _) => press.Acknowledged;

    /// <summary>What each node must have received from whom, by its answers.</summary>
    public ReceptionProofs ReceptionProofs => _receptionProofs ??= new ReceptionProofs(this);

    /// <summary>What each node's own messages show of it.</summary>
    public NodeTraces NodeTraces => _nodeTraces ??= new NodeTraces(this);

    /// <summary>Who joined, how each was set up, and what is missing for the configured groups to work.</summary>
    public CommissioningStory Commissioning => _commissioning ??= CommissioningStory.Of(this);

    /// <summary>How far relays are from those they relay.</summary>
    internal HopDistances HopDistances => _hopDistances ??= new HopDistances(this);

    /// <summary>What elements were seen to act on.</summary>
    internal ActsSeen ActsSeen => _actsSeen ??= new ActsSeen(this, _owesAnAnswer);

    /// <summary>How many cores the stages that need the whole may use.</summary>
    internal int Cores { get; set; } = 1;

    /// <summary>
    /// Why an element did or did not act on a press: the standard's receive procedure played over what was on the air, the first step that rejects,
    /// or why nothing can be told. Not for several threads at once.
    /// </summary>
    /// <param name="press">Row of the press.</param>
    /// <param name="element">Unicast address of the element that was meant to act.</param>
    public EyeView ReceiversEye(int press, MeshAddress element) => Eye.Look(press, element);

    /// <summary>The receiver's eye, which is not for several threads at once.</summary>
    internal ReceiveProcedure Eye => _receiveProcedure ??= new ReceiveProcedure(this, NodeModels!, _owesAnAnswer);

    /// <summary>
    /// Another one, for another thread at the same time: what both look with is made before, and what each keeps is its own, the models of the nodes among it.
    /// </summary>
    internal ReceiveProcedure AnotherEye() => new(this, new NodeModels(Directory, Configuration!, Provisionings), _owesAnAnswer);

    /// <summary>How often <see cref="Eye"/> looked at an element since the analysis: work that a test counts.</summary>
    internal long EyeLooks => _receiveProcedure?.Looks ?? 0;

    /// <summary>True if the element would be heard when it acts on the press: it is asked for a Status, or it publishes and has another state.</summary>
    internal bool OwesAnAnswer(Press press, MeshAddress element) => _owesAnAnswer(press, element);

    /// <summary>Forgets what was worked out: the presses or what stands behind them have changed.</summary>
    internal void ResetEye(Func<Press, MeshAddress, bool> owesAnAnswer)
    {
        _owesAnAnswer = owesAnAnswer;
        _receptionProofs = null;
        _nodeTraces = null;
        _receiveProcedure = null;
        _hopDistances = null;
        _actsSeen = null;
        _commissioning = null;
    }
}
