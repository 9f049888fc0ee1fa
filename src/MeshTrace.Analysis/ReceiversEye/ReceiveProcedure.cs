using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>
/// Plays the standard's receive procedure for one element over what was on the air, and names the first step that rejects. What the element was seen
/// to do weighs more than what the description says of it; what nobody knows rejects nothing.
/// </summary>
internal sealed partial class ReceiveProcedure
{
    /// <summary>With a chance above this that an answer was there and missed, silence says nothing (ours; shown with the verdict).</summary>
    private const double MostMissChance = 0.30;

    /// <summary>Below this chance silence is as good as heard (ours).</summary>
    private const double SmallMissChance = 0.05;

    private readonly CaptureHistory _history;
    private readonly NodeModels _models;
    private readonly ConfigurationHeard _configuration;
    private readonly Func<Press, MeshAddress, bool> _owesAnAnswer;
    private readonly ActsSeen _acts;
    private readonly HopDistances _distances;
    private readonly ReceptionProofs _proofs;
    private readonly NodeTraces _traces;
    private readonly Dictionary<MeshAddress, int> _senders = [];
    private Press? _sendersFor;

    public ReceiveProcedure(CaptureHistory history, Func<Press, MeshAddress, bool> owesAnAnswer)
    {
        _history = history;
        _models = history.NodeModels!;
        _configuration = history.Configuration!;
        _owesAnAnswer = owesAnAnswer;
        _proofs = history.ReceptionProofs;
        _traces = history.NodeTraces;
        _acts = new ActsSeen(history, owesAnAnswer);
        _distances = history.HopDistances;
    }

    public EyeView Look(int pressRow, MeshAddress element)
    {
        Press press = _history.Presses[pressRow];
        var scene = new Scene(_history, _models, press, element);
        var view = new EyeView
        {
            Press = pressRow, Element = element, Node = scene.Node, TtlSent = scene.TtlSent, LowestTtl = press.LastTtl, Seq = scene.Seq,
            NetKeyIndex = _history.Keys.Subnets[scene.Subnet].NetKeyIndex, AppKeyIndex = scene.AppKey < 0 ? null : _history.Keys.AppKeys[scene.AppKey].AppKeyIndex,
            MissChance = MissChanceOf(scene),
        };
        foreach (PressAnswer answer in press.Answers)
        {
            if (answer.Element != element)
                continue;
            view.Verdict = EyeVerdict.Acted;
            view.Confidence = Confidence.Certain;
            view.Evidence = [new Evidence("press", pressRow), new Evidence("message", answer.Message)];
            return view;
        }
        bool acts = _acts.ActsOn(scene, _models.Of(element));
        StepView[] steps =
        [
            NetworkKey(scene, view, acts), IvIndex(scene), Reach(scene, view), MessageCache(scene), Segments(scene), Replay(scene, view), ReplaySpace(scene),
            .. AccessSteps(scene, acts, view), Transaction(scene, pressRow),
        ];
        view.Steps = steps;
        Judge(view, scene, steps);
        return view;
    }

    /// <summary>Chance that its answer, one PDU within 5 s of the last request (§3.7.4), was sent and missed; null where nothing tells how well the node is heard.</summary>
    private double? MissChanceOf(Scene scene)
    {
        const long latestAnswerNs = 5_000_000_000;
        if (_history.HeardShares is not { } shares || shares.FloodIntervalOf(scene.Node) is null)
            return null;
        long from = scene.Press.TimeNs, last = _history.Messages[scene.Press.Messages[^1]].TimeNs;
        return from == CapturedFrame.NoTime ? shares.ChanceAllMissed(scene.Node, 1, 0, 0) : shares.ChanceAllMissed(scene.Node, 1, from, Math.Max(from, last) + latestAnswerNs);
    }

    private void Judge(EyeView view, Scene scene, StepView[] steps)
    {
        var evidence = new List<Evidence> { new("press", view.Press) };
        Confidence surest = Confidence.Possible;
        foreach (StepView step in steps)
            if (step.Outcome == StepOutcome.Rejects && step.Confidence > surest)
                surest = step.Confidence;
        foreach (StepView step in steps)
        {
            if (step.Outcome != StepOutcome.Rejects || step.Confidence < surest)
                continue;       // a guess does not stand before what is known
            (view.Verdict, view.Step, view.Confidence) = (EyeVerdict.Rejected, step.Step, step.Confidence);
            if (step.Evidence is { } row)
                evidence.Add(row);
            view.Evidence = evidence;
            return;
        }
        view.Evidence = evidence;
        view.Doubt = Doubt(view, scene, steps);
        if (view.Doubt != EyeDoubt.None)
            return;
        view.Verdict = EyeVerdict.ShouldHaveActed;
        bool reached = view[ReceiveStep.Reach].Outcome == StepOutcome.Passes;
        view.Confidence = reached && view.MissChance < SmallMissChance ? Confidence.Likely : Confidence.Possible;
    }

    private EyeDoubt Doubt(EyeView view, Scene scene, StepView[] steps)
    {
        foreach (StepView step in steps)
            if (step is { Outcome: StepOutcome.Unknown, Step: ReceiveStep.NetworkKey or ReceiveStep.AppKey or ReceiveStep.Model or ReceiveStep.Address or ReceiveStep.Binding })
                return EyeDoubt.ConfigurationUnknown;
        if (!_owesAnAnswer(scene.Press, scene.Element))
            return EyeDoubt.NoAnswerExpected;
        if (view.MissChance is not { } chance || chance > MostMissChance)
            return EyeDoubt.HeardTooLittle;
        return view[ReceiveStep.Reach].Outcome == StepOutcome.Unknown && view.LowestTtl <= 1 ? EyeDoubt.ReachUnknown : EyeDoubt.None;
    }

    /// <summary>How sure a rejection is, by who states what it rests on.</summary>
    private Confidence ConfidenceIn(Claim claim, MeshAddress node)
    {
        bool unread = _configuration.Unread.ContainsKey(node);      // somebody configured it with messages that nobody here can read
        return claim.From switch
        {
            KnownFrom.Confirmed or KnownFrom.Observed => Confidence.Likely,
            KnownFrom.Description when !unread && _history.Directory.Description?.Partial != true => Confidence.Likely,
            _ => Confidence.Possible,
        };
    }

    private static StepView Passed(ReceiveStep step, KnownFrom from, Evidence? evidence = null) => new(step, StepOutcome.Passes, from, Evidence: evidence);
    private static StepView Unknown(ReceiveStep step) => new(step, StepOutcome.Unknown, KnownFrom.Nothing);

    private StepView Rejected(ReceiveStep step, Claim claim, MeshAddress node) =>
        new(step, StepOutcome.Rejects, claim.From, ConfidenceIn(claim, node), claim.Message >= 0 ? new Evidence("message", claim.Message) : null);

    private StepView ByClaim(ReceiveStep step, Claim claim, MeshAddress node) =>
        !claim.IsKnown ? Unknown(step) : claim.Holds ? Passed(step, claim.From) : Rejected(step, claim, node);
}

/// <summary>A press and an element, with what the steps ask for again and again.</summary>
internal sealed class Scene
{
    public Scene(CaptureHistory history, NodeModels models, Press press, MeshAddress element)
    {
        (Press, Element) = (press, element);
        Node = history.Directory.NodeOf(element);
        SrcNode = history.Directory.NodeOf(press.Src);
        State = models.Of(element).At(press.TimeNs);
        First = press.Messages[0];
        (Subnet, AppKey, IvIndex) = (history.Messages[First].Subnet, history.Messages[First].AppKey, history.Messages[First].IvIndex);
        foreach (int message in press.Messages)
        {
            if (history.Messages[message].Seq > Seq || history.Messages[message].IvIndex > IvIndex)
                (Seq, IvIndex) = (history.Messages[message].Seq, Math.Max(IvIndex, history.Messages[message].IvIndex));
            foreach (int flood in history.FloodsOf(message))
            {
                Floods.Add(flood);
                if (history.Floods[flood].Credentials == Credentials.Flooding && history.Floods[flood].OriginalTtl is { } sent)
                    TtlSent = Math.Max(TtlSent ?? 0, sent);
            }
        }
    }

    public Press Press { get; }
    public MeshAddress Element { get; }
    public MeshAddress Node { get; }
    public MeshAddress SrcNode { get; }
    public NodeState State { get; }
    public int First { get; }
    public int Subnet { get; }
    public int AppKey { get; }
    public uint IvIndex { get; }

    /// <summary>Highest SEQ of the requests.</summary>
    public uint Seq { get; }
    public int? TtlSent { get; }
    public List<int> Floods { get; } = [];
}
