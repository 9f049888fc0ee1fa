using MeshTrace.Protocol;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Access layer and models (Mesh Protocol 1.1 §3.7; Mesh Model 1.1): what servers do with a request and how they answer.</summary>
internal sealed partial class MeshNode
{
    /// <summary>Same SRC, DST and TID within this time: the same transaction, not carried out twice (Mesh Model 1.1 §3.3).</summary>
    private const long TransactionUs = 6_000_000;

    private List<ElementPlan> _elements;
    private readonly HashSet<int> _appKeys;
    private readonly Dictionary<(int Element, RequestKind Kind), int> _state = [];
    private readonly Dictionary<(int Element, ushort Src, ushort Dst, ushort Model), (byte Tid, long TimeUs)> _transactions = [];

    private static ElementPlan Bare(ElementPlan full)
    {
        var bare = new ElementPlan { Name = full.Name, Location = full.Location };
        bare.Models.AddRange(full.Models.Select(model => new ModelPlan { Id = model.Id }));
        return bare;
    }

    /// <summary>True if some element has to do with the address.</summary>
    private bool Addressed(MeshAddress dst) =>
        Owns(dst) || IsFixedFor(dst) || _elements.Exists(element => element.Models.Exists(model => model.Subscribe.Contains(dst)));

    /// <summary>The fixed groups reach the primary element by feature (§3.4.2.4).</summary>
    private bool IsFixedFor(MeshAddress dst) => dst == MeshAddress.AllNodes || (dst == MeshAddress.AllRelays && Plan.Relay == 1) ||
        (dst == MeshAddress.AllProxies && Plan.Proxy == 1) || (dst == MeshAddress.AllFriends && Plan.Friend == 1);

    private bool HasKey(AccessKey key) =>
        key.AppKeyIndex is { } index ? _appKeys.Contains(index) && _keys.Holds(key) : key.DeviceKeyOf == this || HasModel(0x0001);

    private bool HasModel(uint id) => _elements.Exists(element => element.Models.Exists(model => model.Id == id));

    /// <summary>A whole access message addressed to this node.</summary>
    private void Take(AccessMessage message)
    {
        PressTruth? press = message.Press;
        if (message.Request is not null && !message.IsAnswer && LosesRequest())
        {
            press?.Note(Unicast, Reach.LostAtNode);
            return;
        }
        if (!HasKey(message.Key) || !_world.Keys.IsBound(message.Key, message.Subnet))
        {
            if (!message.IsAnswer)
                press?.Note(Unicast, Reach.AppKeyUnknown);
            return;
        }
        if (message.IsAnswer)
        {
            if (press is not null && Owns(message.Dst) && press.Answers.TryGetValue(message.Src.Value, out var answer))
                answer.ArrivedUs ??= Now;
            ConfigurationAnswered?.Invoke(message);
        }
        else if (message.Step is not null)
            Configure(message);
        else if (message.Request is { } request)
        {
            for (int element = 0; element < _elements.Count; element++)
                Serve(element, request, message);
        }
    }

    /// <summary>A fault: the request ends here without a word.</summary>
    private bool LosesRequest() => Plan.Habits.RequestsLost.Exists(loss =>
        Now >= loss.FromUs && Now < loss.UntilUs && (loss.Share >= 1 || _random.Chance(loss.Share)));

    private void Serve(int element, Request request, AccessMessage message)
    {
        MeshAddress address = ElementAddress(element);
        bool owned = address == message.Dst || (element == 0 && IsFixedFor(message.Dst));
        if (message.Dst.IsUnicast && !owned)
            return;
        ModelPlan? model = _elements[element].Models.Find(candidate => candidate.Id == request.ServerModel);
        if (model is null)
        {
            message.Press?.Note(address, Reach.NoModel);
            return;
        }
        if (!owned && !model.Subscribe.Contains(message.Dst))
            message.Press?.Note(address, Reach.NotSubscribed);
        else if (!model.Bind.Contains(message.Key.AppKeyIndex ?? -1))
            message.Press?.Note(address, Reach.NotBound);
        else
            Carry(element, model, request, message);
    }

    private void Carry(int element, ModelPlan model, Request request, AccessMessage message)
    {
        MeshAddress address = ElementAddress(element);
        var state = (element, Absolute(request.Kind));
        int before = _state.GetValueOrDefault(state);
        var transaction = (element, message.Src.Value, message.Dst.Value, request.ServerModel);
        bool repeated = _transactions.TryGetValue(transaction, out var last) && last.Tid == message.Tid
            && Now - last.TimeUs < TransactionUs;
        byte[] status = (repeated ? request with { Value = before, Kind = Absolute(request.Kind) } : request).WriteStatus(before);
        if (repeated)
            message.Press?.Note(address, Reach.SameTransaction);
        else
        {
            _transactions[transaction] = (message.Tid, Now);
            _state[state] = request.After(before);
            message.Press?.Note(address, Reach.Acted);
            message.Press?.Acted.TryAdd(address.Value, Now);
            if (before != request.After(before) && model.Publish is { } publish)
                Publish(element, publish, request, status, message.Press);
        }
        if (message.Acknowledged)
            Answer(address, request, status, message);
    }

    private static RequestKind Absolute(RequestKind kind) => kind == RequestKind.LevelBy ? RequestKind.Level : kind;

    /// <summary>§3.7.3.1: after 20-50 ms to a unicast request, 20-500 ms to one for a group.</summary>
    private void Answer(MeshAddress address, Request request, byte[] status, AccessMessage message)
    {
        long delay = message.Dst.IsUnicast ? _random.Between(20_000, 50_000) : _random.Between(20_000, 500_000);
        _world.Time.After(delay, () =>
        {
            var answer = new AccessMessage
            {
                Name = request.StatusName, Payload = status, Key = message.Key, Subnet = message.Subnet, Src = address, Dst = message.Src,
                Ttl = message.Ttl == 0 ? (byte)0 : (byte)Plan.DefaultTtl, Press = message.Press, IsAnswer = true,
            };
            if (Send(answer) is not null)
                message.Press?.Answers.TryAdd(address.Value, new AnswerTruth { SentUs = Now });
        });
    }

    /// <summary>Every so often the state as it is (§4.2.3).</summary>
    private void PublishPeriodically(int element, ModelPlan model)
    {
        RequestKind kind = Request.KindOf(model.Id)!.Value;
        After(model.Publish!.PeriodMs * 1000, () =>
        {
            var state = new Request(kind, _state.GetValueOrDefault((element, kind)));
            Publish(element, model.Publish, state, state.WriteStatus(state.Value), null);
            PublishPeriodically(element, model);
        });
    }

    /// <summary>A publication: of a state change common to many nodes after 20-500 ms, a periodic one after 20-50 ms (§3.7.3.1).</summary>
    private void Publish(int element, PublishPlan publish, Request request, byte[] status, PressTruth? press)
    {
        if (!_world.Keys.TryFindAppKey(publish.AppKey, out var key, out var subnet) || !_appKeys.Contains(publish.AppKey))
            return;
        MeshAddress address = ElementAddress(element);
        long delay = _random.Between(20_000, press is null ? 50_000 : 500_000);
        for (int i = 0; i <= publish.RetransmitCount; i++)
        {
            _world.Time.After(delay + (i * publish.RetransmitIntervalMs * 1000L), () =>
            {
                var message = new AccessMessage
                {
                    Name = request.StatusName, Payload = status, Key = key, Subnet = subnet, Src = address, Dst = publish.Address,
                    Ttl = TtlOf(publish.Ttl), Press = press, IsAnswer = true,
                };
                if (Send(message) is not null)
                    press?.Answers.TryAdd(address.Value, new AnswerTruth { SentUs = Now });
            });
        }
    }

    private byte TtlOf(int ttl) => (byte)(ttl == 255 ? Plan.DefaultTtl : ttl);
}
