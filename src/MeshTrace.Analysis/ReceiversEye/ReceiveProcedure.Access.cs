using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>The steps of the upper transport and access layers.</summary>
internal sealed partial class ReceiveProcedure
{
    private StepView[] AccessSteps(Scene scene, bool acts, EyeView view)
    {
        List<ModelInstance> servers = ServersOn(scene);
        view.Model = servers.Count > 0 ? servers[0] : null;
        if (acts)
            return [.. new[] { ReceiveStep.AppKey, ReceiveStep.Model, ReceiveStep.Address, ReceiveStep.Binding }.Select(step => Passed(step, KnownFrom.Observed))];

        StepView appKey = AppKey(scene), model = Model(scene, servers);
        if (model.Outcome != StepOutcome.Passes)
            return [appKey, model, Unknown(ReceiveStep.Address), Unknown(ReceiveStep.Binding)];
        (StepView address, List<ModelInstance> listening) = Address(scene, servers);
        if (listening.Count > 0)
            view.Model = listening[0];
        return [appKey, model, address, address.Outcome == StepOutcome.Rejects ? Unknown(ReceiveStep.Binding) : Binding(scene, listening)];
    }

    private StepView AppKey(Scene scene)
    {
        if (scene.AppKey < 0)
            return Unknown(ReceiveStep.AppKey);
        Keys.AppKey key = _history.Keys.AppKeys[scene.AppKey];
        if (key.BoundNetKey is { } bound && _history.Keys.Subnets[scene.Subnet].NetKeyIndex is { } subnet && bound != subnet)
            return Rejected(ReceiveStep.AppKey, new Claim(false, KnownFrom.Description), scene.Node);     // the key belongs to another subnet
        if (_traces.UsesAppKey(scene.Node, scene.AppKey))
            return Passed(ReceiveStep.AppKey, KnownFrom.Observed);
        return key.AppKeyIndex is { } index ? ByClaim(ReceiveStep.AppKey, scene.State.AppKeys[index], scene.Node) : Unknown(ReceiveStep.AppKey);
    }

    private StepView Model(Scene scene, List<ModelInstance> servers)
    {
        if (servers.Count > 0)
            return Passed(ReceiveStep.Model, scene.State.Models[servers[0]].From);
        Claim others = scene.State.Models.Others;
        return AccessCatalogue.Find(scene.Press.Opcode)?.ServerModels is { Count: > 0 } && others.IsKnown ? Rejected(ReceiveStep.Model, others, scene.Node) : Unknown(ReceiveStep.Model);
    }

    /// <summary>Server models for the request that the element has, as far as is known.</summary>
    private static List<ModelInstance> ServersOn(Scene scene)
    {
        IReadOnlyList<ushort> wanted = AccessCatalogue.Find(scene.Press.Opcode)?.ServerModels ?? [];
        return [.. wanted.Select(number => new ModelInstance(scene.Element, new ModelNumber(number))).Where(model => scene.State.Models[model] is { IsKnown: true, Holds: true })];
    }

    private (StepView, List<ModelInstance>) Address(Scene scene, List<ModelInstance> servers)
    {
        MeshAddress dst = scene.Press.Dst;
        if (dst.IsUnicast)
        {
            return (dst == scene.Element ? Passed(ReceiveStep.Address, KnownFrom.Observed)
                : new StepView(ReceiveStep.Address, StepOutcome.Rejects, KnownFrom.Observed, Confidence.Likely), servers);
        }
        if (dst.IsFixedGroup)
            return (FixedGroup(scene, dst), servers);
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
        bool shared = scene.State.ModelsOn(scene.Element).Any(model => scene.State.SubscriptionsOf(model)[dst] is { IsKnown: true, Holds: true });
        return anyUnknown || shared ? (Unknown(ReceiveStep.Address), servers) : (Rejected(ReceiveStep.Address, weakest, scene.Node), servers);
    }

    /// <summary>The fixed groups reach the primary element of nodes with the feature switched on, without any subscription (§3.4.2.4).</summary>
    private StepView FixedGroup(Scene scene, MeshAddress dst)
    {
        if (scene.Element != scene.Node)
            return new StepView(ReceiveStep.Address, StepOutcome.Rejects, KnownFrom.Observed, Confidence.Likely);
        if (dst == MeshAddress.AllNodes)
            return Passed(ReceiveStep.Address, KnownFrom.Observed);
        Known<FeatureState> feature = dst == MeshAddress.AllRelays ? scene.State.Relay : dst == MeshAddress.AllFriends ? scene.State.Friend
            : dst == MeshAddress.AllProxies ? scene.State.Proxy : default;
        return ByClaim(ReceiveStep.Address, feature.IsKnown ? new Claim(feature.Value == FeatureState.Enabled, feature.From, feature.Message) : Claim.Unknown, scene.Node);
    }

    private StepView Binding(Scene scene, List<ModelInstance> listening)
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
    private StepView Transaction(Scene scene, int pressRow)
    {
        if (_acts.EarlierTransaction(_history, pressRow) is not { } earlier)
            return Passed(ReceiveStep.Transaction, KnownFrom.Observed);
        Press before = _history.Presses[earlier];
        if (!before.Answers.Exists(answer => answer.Element == scene.Element))
            return Unknown(ReceiveStep.Transaction);
        return new StepView(ReceiveStep.Transaction, StepOutcome.Rejects, KnownFrom.Observed,
            scene.Press.TimeNs == CapturedFrame.NoTime ? Confidence.Possible : Confidence.Likely, new Evidence("press", earlier));
    }
}
