using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>The steps of the upper transport and access layers.</summary>
internal sealed partial class ReceiveProcedure
{
    /// <summary>What the steps of the access layer depend on, beside the state of the node.</summary>
    internal readonly record struct AccessQuestion(MeshAddress Element, MeshAddress Dst, uint Opcode, int AppKey, int Subnet, bool Acts);

    /// <summary>What they gave, and for which state of the node.</summary>
    internal sealed record AccessAnswer(AccessQuestion Question, NodeState State, StepView[] Steps, ModelInstance? Model);

    /// <summary>The same element is asked the same for press after press: one answer a question, until its configuration changes.</summary>
    private readonly Dictionary<AccessQuestion, AccessAnswer> _access = [];

    private void AccessSteps(in Scene scene, bool acts, ref EyeGlance view, Span<StepView> steps)
    {
        var question = new AccessQuestion(scene.Element, scene.Press.Dst, scene.Press.Opcode.Value, scene.AppKey, scene.Subnet, acts);
        if (scene.Listener.Access is not { } answer || answer.Question != question || answer.State != scene.State)
            scene.Listener.Access = answer = AnswerTo(question, in scene);
        answer.Steps.CopyTo(steps);
        view.Model = answer.Model;
    }

    private AccessAnswer AnswerTo(AccessQuestion question, in Scene scene)
    {
        if (!_access.TryGetValue(question, out AccessAnswer? answer) || answer.State != scene.State)
            _access[question] = answer = AnswerOf(question, in scene);
        return answer;
    }

    private AccessAnswer AnswerOf(AccessQuestion question, in Scene scene)
    {
        List<ModelInstance> servers = ServersOn(in scene);
        ModelInstance? first = servers.Count > 0 ? servers[0] : null;
        if (question.Acts)
            return new AccessAnswer(question, scene.State, [.. new[] { ReceiveStep.AppKey, ReceiveStep.Model, ReceiveStep.Address, ReceiveStep.Binding }.Select(step => Passed(step, KnownFrom.Observed))], first);

        StepView appKey = AppKey(in scene), model = Model(in scene, servers);
        if (model.Outcome != StepOutcome.Passes)
            return new AccessAnswer(question, scene.State, [appKey, model, Unknown(ReceiveStep.Address), Unknown(ReceiveStep.Binding)], first);
        (StepView address, List<ModelInstance> listening) = Address(in scene, servers);
        StepView binding = address.Outcome == StepOutcome.Rejects ? Unknown(ReceiveStep.Binding) : Binding(in scene, listening);
        return new AccessAnswer(question, scene.State, [appKey, model, address, binding], listening.Count > 0 ? listening[0] : first);
    }

    private StepView AppKey(in Scene scene)
    {
        if (scene.AppKey < 0)
            return Unknown(ReceiveStep.AppKey);
        Keys.AppKey key = _history.Keys.AppKeys[scene.AppKey];
        if (key.BoundNetKey is { } bound && _history.Keys.Subnets[scene.Subnet].NetKeyIndex is { } subnet && bound != subnet)
            return Rejected(ReceiveStep.AppKey, new Claim(false, KnownFrom.Description), scene.Node);     // the key belongs to another subnet
        if (scene.Listener.Trace.UsesAppKey(scene.AppKey))
            return Passed(ReceiveStep.AppKey, KnownFrom.Observed);
        return key.AppKeyIndex is { } index ? ByClaim(ReceiveStep.AppKey, scene.State.AppKeys[index], scene.Node) : Unknown(ReceiveStep.AppKey);
    }

    private StepView Model(in Scene scene, List<ModelInstance> servers)
    {
        if (servers.Count > 0)
            return Passed(ReceiveStep.Model, scene.State.Models[servers[0]].From);
        Claim others = scene.State.Models.Others;
        return scene.Shared.Servers.Count > 0 && others.IsKnown ? Rejected(ReceiveStep.Model, others, scene.Node) : Unknown(ReceiveStep.Model);
    }

    /// <summary>Server models for the request that the element has, as far as is known.</summary>
    private static List<ModelInstance> ServersOn(in Scene scene)
    {
        var servers = new List<ModelInstance>();
        foreach (ushort number in scene.Shared.Servers)
            if (new ModelInstance(scene.Element, new ModelNumber(number)) is var model && scene.State.Models[model] is { IsKnown: true, Holds: true })
                servers.Add(model);
        return servers;
    }

    private (StepView, List<ModelInstance>) Address(in Scene scene, List<ModelInstance> servers)
    {
        MeshAddress dst = scene.Press.Dst;
        if (dst.IsUnicast)
        {
            return (dst == scene.Element ? Passed(ReceiveStep.Address, KnownFrom.Observed)
                : new StepView(ReceiveStep.Address, StepOutcome.Rejects, KnownFrom.Observed, Confidence.Likely), servers);
        }
        if (dst.IsFixedGroup)
            return (FixedGroup(in scene, dst), servers);
        var listening = new List<ModelInstance>();
        Claim strongest = Claim.Unknown, weakest = new(false, KnownFrom.Observed);
        bool anyUnknown = false;
        foreach (ModelInstance model in servers)
        {
            Claim claim = scene.State.SubscriptionsOf(model)[dst];
            anyUnknown |= !claim.IsKnown;
            if (claim is { IsKnown: true, Holds: true })
            {
                listening.Add(model);
                strongest = claim.From > strongest.From ? claim : strongest;
            }
            else if (claim.From < weakest.From)
                weakest = claim;
        }
        if (listening.Count > 0)
            return (Passed(ReceiveStep.Address, strongest.From), listening);
        // A model that extends another shares its subscription list (§4.2.4): a list of any model on the element may serve this one.
        NodeState state = scene.State;
        bool shared = state.ModelsOn(scene.Element).Any(model => state.SubscriptionsOf(model)[dst] is { IsKnown: true, Holds: true });
        return anyUnknown || shared ? (Unknown(ReceiveStep.Address), servers) : (Rejected(ReceiveStep.Address, weakest, scene.Node), servers);
    }

    /// <summary>The fixed groups reach the primary element of nodes with the feature switched on, without any subscription (§3.4.2.4).</summary>
    private StepView FixedGroup(in Scene scene, MeshAddress dst)
    {
        if (scene.Element != scene.Node)
            return new StepView(ReceiveStep.Address, StepOutcome.Rejects, KnownFrom.Observed, Confidence.Likely);
        if (dst == MeshAddress.AllNodes)
            return Passed(ReceiveStep.Address, KnownFrom.Observed);
        Known<FeatureState> feature = dst == MeshAddress.AllRelays ? scene.State.Relay : dst == MeshAddress.AllFriends ? scene.State.Friend
            : dst == MeshAddress.AllProxies ? scene.State.Proxy : default;
        return ByClaim(ReceiveStep.Address, feature.IsKnown ? new Claim(feature.Value == FeatureState.Enabled, feature.From, feature.Message) : Claim.Unknown, scene.Node);
    }

    private StepView Binding(in Scene scene, List<ModelInstance> listening)
    {
        if (scene.AppKey < 0 || _history.Keys.AppKeys[scene.AppKey].AppKeyIndex is not { } index)
            return Unknown(ReceiveStep.Binding);
        Claim weakest = new(false, KnownFrom.Observed);
        foreach (ModelInstance model in listening)
        {
            Claim claim = scene.State.BindingsOf(model)[index];
            if (!claim.IsKnown)
                return Unknown(ReceiveStep.Binding);
            if (claim.Holds)
                return Passed(ReceiveStep.Binding, claim.From);
            weakest = claim.From < weakest.From ? claim : weakest;
        }
        return listening.Count == 0 ? Unknown(ReceiveStep.Binding) : Rejected(ReceiveStep.Binding, weakest, scene.Node);
    }

    /// <summary>A server takes a request with the SRC, DST and TID of one it carried out within 6 s for its repetition (Mesh Model 1.1 §3.3).</summary>
    private StepView Transaction(in Scene scene)
    {
        if (!scene.Shared.EarlierKnown)
            (scene.Shared.EarlierKnown, scene.Shared.Earlier) = (true, _acts.EarlierTransaction(_history, scene.Shared.Row));
        if (scene.Shared.Earlier is not { } earlier)
            return Passed(ReceiveStep.Transaction, KnownFrom.Observed);
        if (!_history.Presses[earlier].IsAnsweredBy(scene.Element))
            return Unknown(ReceiveStep.Transaction);
        return new StepView(ReceiveStep.Transaction, StepOutcome.Rejects, KnownFrom.Observed,
            scene.Press.TimeNs == CapturedFrame.NoTime ? Confidence.Possible : Confidence.Likely, new Evidence("press", earlier));
    }
}
