using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>
/// Looks at the last known configuration of all nodes for what is missing between those that publish and those that should act. What nobody knows is
/// no gap, and an element that was seen to act on the publications of an address has none.
/// </summary>
internal sealed class SetupCheck
{
    /// <summary>Distances shown by fewer floods accuse no TTL (ours).</summary>
    private const int EnoughFloods = 10;

    /// <summary>Below it stand the foundation models, which presses do not use.</summary>
    private const ushort FirstModelOfLighting = 0x1000;

    private readonly CaptureHistory _history;
    private readonly NodeState[] _states;
    private readonly Dictionary<MeshAddress, List<(ModelInstance Model, Claim Claim)>> _subscribers = [];
    private readonly HashSet<(MeshAddress Src, MeshAddress Dst, MeshAddress Element)> _acts = [];
    private readonly bool _allListsKnown;
    private readonly List<SetupGap> _gaps = [];

    public SetupCheck(CaptureHistory history)
    {
        _history = history;
        _states = [.. history.NodeModels!.All.Select(model => model.At(long.MaxValue)).Where(state => state.OutOfNetwork is not { IsKnown: true, Holds: true })];
        bool known = history.Directory.Description is { Partial: false };
        foreach (NodeState state in _states)
        {
            known &= state.Models.Others.IsKnown;
            foreach (ModelInstance model in state.ConfiguredModels.ToArray())
            {
                known &= state.SubscriptionsOf(model).Others.IsKnown;
                foreach (MeshAddress address in state.SubscriptionsOf(model).Members)
                {
                    if (!_subscribers.TryGetValue(address, out List<(ModelInstance Model, Claim Claim)>? subscribers))
                        _subscribers.Add(address, subscribers = []);
                    subscribers.Add((model, state.SubscriptionsOf(model)[address]));
                }
            }
        }
        _allListsKnown = known;
        foreach (Presses.Press press in history.Presses)
            foreach (Presses.PressAnswer answer in press.Answers)
                _acts.Add((press.Src, press.Dst, answer.Element));
    }

    public IReadOnlyList<SetupGap> Run()
    {
        foreach (NodeState state in _states)
        {
            foreach ((ModelInstance model, Known<PublicationState> publication) in state.Publications)
                if (publication.IsKnown)
                    CheckPublication(state, model, publication);
            foreach (ModelInstance model in state.Models.Members)
                if (IsClient(model) && state.PublicationOf(model) is { IsKnown: true, Value: { } none } known && none.Address.Address == MeshAddress.Unassigned)
                    Add(SetupGapKind.PublishesNowhere, model, none, null, null, null, new Claim(false, known.From, known.Message));
        }
        return _gaps;
    }

    private void CheckPublication(NodeState state, ModelInstance model, Known<PublicationState> known)
    {
        PublicationState publication = known.Value!;
        Claim told = new(true, known.From, known.Message);
        if (publication.AppKeyIndex is { } key)
        {
            Claim has = state.AppKeys[key], bound = state.BindingsOf(model)[key];
            if (has is { IsKnown: true, Holds: false })
                Add(SetupGapKind.PublisherWithoutAppKey, model, publication, null, null, null, told, has);
            else if (bound is { IsKnown: true, Holds: false })
                Add(SetupGapKind.PublisherWithoutBinding, model, publication, null, null, null, told, bound);
        }
        if (!IsClient(model))
            return;         // a server's publication serves whoever likes to listen
        MeshAddress address = publication.Address.Address;
        List<(ModelInstance Model, Claim Claim)> subscribers = address.IsUnicast ? ServersAt(address) : _subscribers.GetValueOrDefault(address) ?? [];
        if (subscribers.Count == 0)
        {
            if (_allListsKnown && !address.IsFixedGroup && !address.IsUnicast && !_acts.Any(act => act.Dst == address))
                Add(SetupGapKind.GroupWithoutSubscriber, model, publication, null, null, null, told, new Claim(false, KnownFrom.Description));
            return;
        }
        List<(ModelInstance Model, Claim Claim)> fitting = [.. subscribers.Where(subscriber => Serves(subscriber.Model, model))];
        // A model that extends another shares its subscription list (§4.2.4): a fitting model beside the one that is listed hears too.
        bool beside = subscribers.Exists(subscriber => ServersAt(subscriber.Model.Element).Exists(other => Serves(other.Model, model)));
        if (fitting.Count == 0 && !beside && _allListsKnown && !address.IsUnicast && !_acts.Any(act => act.Dst == address))
            Add(SetupGapKind.SubscriberOnOtherModel, model, publication, subscribers[0].Model, null, null, told, subscribers[0].Claim);
        int? ttl = publication.Ttl == DescribedPublish.DefaultTtl ? state.DefaultTtl is { IsKnown: true } standard ? standard.Value : null : publication.Ttl;
        foreach ((ModelInstance subscriber, Claim claim) in fitting)
            CheckSubscriber(state, model, publication, subscriber, ttl, told, claim);
    }

    private void CheckSubscriber(NodeState publisher, ModelInstance model, PublicationState publication, ModelInstance subscriber, int? ttl, Claim told, Claim subscribed)
    {
        MeshAddress address = publication.Address.Address;
        if (_acts.Contains((model.Element, address, subscriber.Element)))
            return;
        NodeState node = _history.NodeModels!.Of(subscriber.Element).At(long.MaxValue);
        if (publication.AppKeyIndex is { } key && node.BindingsOf(subscriber)[key] is { IsKnown: true, Holds: false } unbound)
            Add(SetupGapKind.SubscriberOnOtherAppKey, model, publication, subscriber, ttl, null, told, subscribed, unbound);
        if (ttl is { } sent && _history.HopDistances.Seen(publisher.Unicast, node.Unicast) is { Floods: >= EnoughFloods } way && way.Hops > Math.Max(sent, 1))
            Add(SetupGapKind.TtlTooLow, model, publication, subscriber, sent, way.Hops, told, subscribed, new Claim(true, KnownFrom.Observed));
    }

    private List<(ModelInstance Model, Claim Claim)> ServersAt(MeshAddress element)
    {
        NodeState state = _history.NodeModels!.Of(element).At(long.MaxValue);
        return [.. state.ModelsOn(element).Select(model => (model, state.Models[model]))];
    }

    /// <summary>The server of a client model has its name, and the setup server extends it (the models of Mesh Model 1.1 are named so).</summary>
    private static bool Serves(ModelInstance server, ModelInstance client)
    {
        if (server.Model.Company is not null || client.Model.Company is not null)
            return server.Model.Company == client.Model.Company;       // nobody knows which vendor models belong together: those of one company may
        return ModelCatalogue.Find(server.Model.Number) is { IsServer: true } one && ModelCatalogue.Find(client.Model.Number) is { IsClient: true } other
            && (one.Group == other.Group || one.Name.StartsWith(other.Name.Replace(" Client", "", StringComparison.Ordinal), StringComparison.Ordinal));
    }

    private static bool IsClient(ModelInstance model) =>
        model.Model is { Company: null, Number: >= FirstModelOfLighting } && ModelCatalogue.Find(model.Model.Number)?.IsClient == true;

    private void Add(SetupGapKind kind, ModelInstance publisher, PublicationState publication, ModelInstance? subscriber, int? ttl, int? ttlNeeded, params ReadOnlySpan<Claim> claims)
    {
        KnownFrom weakest = KnownFrom.Observed;
        var evidence = new List<Evidence>();
        foreach (Claim claim in claims)
        {
            weakest = claim.From < weakest ? claim.From : weakest;
            if (claim.Message >= 0 && !evidence.Contains(new Evidence("message", claim.Message)))
                evidence.Add(new Evidence("message", claim.Message));
        }
        bool unread = _history.Configuration!.Unread.ContainsKey(_history.Directory.NodeOf(publisher.Element))
            || (subscriber is { } other && _history.Configuration.Unread.ContainsKey(_history.Directory.NodeOf(other.Element)));
        bool sure = weakest >= KnownFrom.Confirmed || (weakest == KnownFrom.Description && !unread && _history.Directory.Description?.Partial != true);
        _gaps.Add(new SetupGap(kind, publisher, publication.Address.Address, publication.AppKeyIndex, subscriber, ttl, ttlNeeded, weakest, sure ? Confidence.Likely : Confidence.Possible, evidence));
    }
}
