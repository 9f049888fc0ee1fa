using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;

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

    /// <summary>Steps of the procedure, those of the access layer among them, and where the reach stands.</summary>
    private const int Steps = 12, AccessStepCount = 4, ReachAt = 2;

    private readonly CaptureHistory _history;
    private readonly NodeModels _models;
    private readonly ConfigurationHeard _configuration;
    private readonly Func<Press, MeshAddress, bool> _owesAnAnswer;
    private readonly ActsSeen _acts;
    private readonly HopDistances _distances;
    private readonly ReceptionProofs _proofs;
    private readonly NodeTraces _traces;

    /// <summary>Steps of the element that is looked at, in their order: nothing is kept of an element but its view.</summary>
    private readonly StepView[] _steps = new StepView[Steps];

    private readonly AddressMap<Listener> _listeners = new();

    /// <summary>Chance that an answer of the element that is looked at was on the air and missed, or null where nothing tells how well its node is heard.</summary>
    private double? _missChance;

    /// <summary>The press looked at last: its elements are asked about one after the other, as a rule.</summary>
    private readonly PressScene _press;

    public ReceiveProcedure(CaptureHistory history, NodeModels models, Func<Press, MeshAddress, bool> owesAnAnswer)
    {
        _history = history;
        _press = new PressScene(history);
        _models = models;
        _configuration = history.Configuration!;
        _owesAnAnswer = owesAnAnswer;
        _proofs = history.ReceptionProofs;
        _traces = history.NodeTraces;
        _acts = history.ActsSeen;
        _distances = history.HopDistances;
    }

    /// <summary>How often an element was looked at.</summary>
    internal long Looks { get; private set; }

    /// <summary>The press as an element must have seen it, with all steps.</summary>
    /// <param name="pressRow">Row of the press.</param>
    /// <param name="element">Its unicast address.</param>
    public EyeView Look(int pressRow, MeshAddress element)
    {
        EyeGlance glance = Glance(pressRow, element);
        return new EyeView(in glance)
        {
            Steps = glance.Verdict == EyeVerdict.Acted ? [] : [.. _steps], NetKeyIndex = _press.NetKeyIndex, LowestTtl = _press.Press.LastTtl, MissChance = _missChance,
        };
    }

    /// <summary>The same without the steps.</summary>
    /// <inheritdoc cref="Look"/>
    public EyeGlance Glance(int pressRow, MeshAddress element)
    {
        if (_press.Row != pressRow)
            _press.Show(pressRow);
        PressScene press = _press;
        if (!_listeners.TryGetValue(element, out Listener listener))
            _listeners.TryAdd(element, listener = ListenerAt(element));
        var scene = new Scene(press, element, listener, WayTo(element, listener));
        var view = new EyeGlance(pressRow, element, listener.Node) { TtlSent = press.TtlSent, Seq = press.Seq, AppKeyIndex = press.AppKeyIndex };
        _missChance = listener.HeardShare is { } share ? HeardShares.ChanceMissed(in share, press.DeafShare) : null;
        Looks++;
        if (press.AnswerOf(element) is { } answer)
        {
            view.Verdict = EyeVerdict.Acted;
            view.Confidence = Confidence.Certain;
            view.RestsOn = new Evidence("message", answer.Message);
            return view;
        }
        bool acts = ActsSeen.ActedAround(scene.Way.Acts, press.Press.TimeNs, listener.Model);
        StepView[] steps = _steps;
        steps[0] = NetworkKey(in scene, ref view, acts);
        steps[1] = IvIndex(in scene);
        steps[2] = Reach(in scene, ref view);
        steps[3] = press.MessageCache ??= MessageCache(press);
        steps[4] = Segments(in scene);
        steps[5] = Replay(in scene, ref view);
        steps[6] = ReplaySpace(in scene);
        AccessSteps(in scene, acts, ref view, steps.AsSpan(7, AccessStepCount));
        steps[7 + AccessStepCount] = Transaction(in scene);
        Judge(ref view, in scene, steps);
        return view;
    }

    private Listener ListenerAt(MeshAddress element)
    {
        MeshAddress node = _history.Directory.NodeOf(element);
        return new Listener { Node = node, Model = _models.Of(node), Trace = _traces.Of(node), HeardShare = _history.HeardShares?.FloodIntervalOf(node) };
    }

    /// <summary>The way of the press at hand to an element: mostly that of the press before.</summary>
    private PressWay WayTo(MeshAddress element, Listener listener)
    {
        MeshAddress src = _press.Press.Src, srcNode = _press.SrcNode, node = listener.Node;
        var by = new PressedBy(src, _press.Press.Dst, _press.Status, _press.AppKey);
        if (listener.Way is { } before && before.By == by)
            return before;
        HopDistance? seen = _distances.Seen(srcNode, node);
        return listener.Way = new PressWay
        {
            By = by, LeastTtl = _proofs.LeastTtl(srcNode, node), Seen = seen, Estimate = seen ?? _distances.Estimate(srcNode, node),
            Tallies = _acts.Tallies(srcNode, element), Proofs = _proofs.Of(node, src), Acts = _acts.Times(element, by),
        };
    }

    private void Judge(ref EyeGlance view, in Scene scene, StepView[] steps)
    {
        Confidence surest = Confidence.Possible;
        bool rejected = false;
        foreach (ref readonly StepView step in steps.AsSpan())
        {
            rejected |= step.Outcome == StepOutcome.Rejects;
            if (step.Outcome == StepOutcome.Rejects && step.Confidence > surest)
                surest = step.Confidence;
        }
        foreach (ref readonly StepView step in steps.AsSpan(0, rejected ? steps.Length : 0))
        {
            if (step.Outcome != StepOutcome.Rejects || step.Confidence < surest)
                continue;       // a guess does not stand before what is known
            (view.Verdict, view.Step, view.Confidence, view.RestsOn) = (EyeVerdict.Rejected, step.Step, step.Confidence, step.Evidence);
            return;
        }
        view.Doubt = Doubt(in scene, steps);
        if (view.Doubt != EyeDoubt.None)
            return;
        view.Verdict = EyeVerdict.ShouldHaveActed;
        bool reached = steps[ReachAt].Outcome == StepOutcome.Passes;
        view.Confidence = reached && _missChance < SmallMissChance ? Confidence.Likely : Confidence.Possible;
    }

    private EyeDoubt Doubt(in Scene scene, StepView[] steps)
    {
        foreach (ref readonly StepView step in steps.AsSpan())
            if (step is { Outcome: StepOutcome.Unknown, Step: ReceiveStep.NetworkKey or ReceiveStep.AppKey or ReceiveStep.Model or ReceiveStep.Address or ReceiveStep.Binding })
                return EyeDoubt.ConfigurationUnknown;
        if (!_owesAnAnswer(scene.Press, scene.Element))
            return EyeDoubt.NoAnswerExpected;
        if (_missChance is not { } chance || chance > MostMissChance)
            return EyeDoubt.HeardTooLittle;
        return steps[ReachAt].Outcome == StepOutcome.Unknown && scene.Press.LastTtl <= 1 ? EyeDoubt.ReachUnknown : EyeDoubt.None;
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
