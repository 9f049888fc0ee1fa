using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Findings;
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

    /// <summary>The press looked at last: its elements are asked about one after the other, as a rule.</summary>
    private readonly PressScene _press;

    public ReceiveProcedure(CaptureHistory history, Func<Press, MeshAddress, bool> owesAnAnswer)
    {
        _history = history;
        _press = new PressScene(history);
        _models = history.NodeModels!;
        _configuration = history.Configuration!;
        _owesAnAnswer = owesAnAnswer;
        _proofs = history.ReceptionProofs;
        _traces = history.NodeTraces;
        _acts = history.ActsSeen;
        _distances = history.HopDistances;
    }

    /// <summary>How often an element was looked at.</summary>
    internal long Looks { get; private set; }

    /// <summary>The press as an element must have seen it.</summary>
    /// <param name="pressRow">Row of the press.</param>
    /// <param name="element">Its unicast address.</param>
    /// <param name="withSteps">False: the view is to be kept among many, without its steps.</param>
    public EyeView Look(int pressRow, MeshAddress element, bool withSteps = true)
    {
        if (_press.Row != pressRow)
            _press.Show(pressRow);
        PressScene press = _press;
        MeshAddress node = _history.Directory.NodeOf(element);
        var scene = new Scene(press, element, node, _models.Of(node));
        var view = new EyeView
        {
            Press = pressRow, Element = element, Node = node, TtlSent = press.TtlSent, LowestTtl = press.Press.LastTtl, Seq = press.Seq,
            NetKeyIndex = press.NetKeyIndex, AppKeyIndex = press.AppKeyIndex, MissChance = MissChanceOf(in scene),
        };
        Looks++;
        if (press.AnswerOf(element) is { } answer)
        {
            view.Verdict = EyeVerdict.Acted;
            view.Confidence = Confidence.Certain;
            view.Evidence = [new Evidence("press", pressRow), new Evidence("message", answer.Message)];
            return view;
        }
        bool acts = _acts.ActsOn(in scene);
        StepView[] steps = _steps;
        steps[0] = NetworkKey(in scene, view, acts);
        steps[1] = IvIndex(in scene);
        steps[2] = Reach(in scene, view);
        steps[3] = press.MessageCache ??= MessageCache(press);
        steps[4] = Segments(in scene);
        steps[5] = Replay(in scene, view);
        steps[6] = ReplaySpace(in scene);
        AccessSteps(in scene, acts, view, steps.AsSpan(7, AccessStepCount));
        steps[7 + AccessStepCount] = Transaction(in scene);
        if (withSteps)
            view.Steps = [.. steps];
        Judge(view, in scene, steps);
        return view;
    }

    /// <summary>Chance that its answer, one PDU within 5 s of the last request (§3.7.4), was sent and missed; null where nothing tells how well the node is heard.</summary>
    private double? MissChanceOf(in Scene scene)
    {
        if (_history.HeardShares is not { } shares || shares.FloodIntervalOf(scene.Node) is null)
            return null;
        long from = scene.Press.TimeNs;
        return from == CapturedFrame.NoTime ? shares.ChanceAllMissed(scene.Node, 1, 0, 0) : shares.ChanceAllMissed(scene.Node, 1, from, scene.Shared.AnswersUntilNs);
    }

    private void Judge(EyeView view, in Scene scene, StepView[] steps)
    {
        Confidence surest = Confidence.Possible;
        foreach (ref readonly StepView step in steps.AsSpan())
            if (step.Outcome == StepOutcome.Rejects && step.Confidence > surest)
                surest = step.Confidence;
        var press = new Evidence("press", view.Press);
        foreach (ref readonly StepView step in steps.AsSpan())
        {
            if (step.Outcome != StepOutcome.Rejects || step.Confidence < surest)
                continue;       // a guess does not stand before what is known
            (view.Verdict, view.Step, view.Confidence) = (EyeVerdict.Rejected, step.Step, step.Confidence);
            view.Evidence = step.Evidence is { } row ? [press, row] : [press];
            return;
        }
        view.Evidence = [press];
        view.Doubt = Doubt(view, in scene, steps);
        if (view.Doubt != EyeDoubt.None)
            return;
        view.Verdict = EyeVerdict.ShouldHaveActed;
        bool reached = steps[ReachAt].Outcome == StepOutcome.Passes;
        view.Confidence = reached && view.MissChance < SmallMissChance ? Confidence.Likely : Confidence.Possible;
    }

    private EyeDoubt Doubt(EyeView view, in Scene scene, StepView[] steps)
    {
        foreach (ref readonly StepView step in steps.AsSpan())
            if (step is { Outcome: StepOutcome.Unknown, Step: ReceiveStep.NetworkKey or ReceiveStep.AppKey or ReceiveStep.Model or ReceiveStep.Address or ReceiveStep.Binding })
                return EyeDoubt.ConfigurationUnknown;
        if (!_owesAnAnswer(scene.Press, scene.Element))
            return EyeDoubt.NoAnswerExpected;
        if (view.MissChance is not { } chance || chance > MostMissChance)
            return EyeDoubt.HeardTooLittle;
        return steps[ReachAt].Outcome == StepOutcome.Unknown && view.LowestTtl <= 1 ? EyeDoubt.ReachUnknown : EyeDoubt.None;
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
