using System.Globalization;
using MeshTrace.Protocol;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Client models: somebody presses a button here.</summary>
internal sealed partial class MeshNode
{
    private readonly Dictionary<int, byte> _tids = [];

    /// <summary>Carries out a press. What cannot be sent is noted in the truth with the reason.</summary>
    internal void Press(PressPlan plan, PressTruth truth)
    {
        Request request = Request.Of(plan.Asks);
        ModelPlan? client = plan.Element < _elements.Count ? _elements[plan.Element].Models.Find(model => model.Id == request.ClientModel)
            : null;
        PublishPlan? publish = client?.Publish;
        MeshAddress dst = plan.To ?? publish?.Address ?? MeshAddress.Unassigned;
        int appKey = plan.AppKey ?? publish?.AppKey ?? (client?.Bind.Count > 0 ? client.Bind[0] : -1);
        byte ttl = TtlOf(plan.Ttl ?? publish?.Ttl ?? 255);
        truth.NotSent = !Station.On ? "powered-off"
            : _outside ? "not-in-the-network"
            : Plan.Phone is not null && !IsConnected ? "no-proxy"
            : dst == MeshAddress.Unassigned ? "panel-not-publishing"
            : client is not null && !client.Bind.Contains(appKey) ? "appkey-not-bound-at-panel"
            : !_appKeys.Contains(appKey) ? "appkey-unknown-at-panel"
            : ttl == 1 ? "ttl-one"
            : null;
        if (truth.NotSent is not null || !_world.Keys.TryFindAppKey(appKey, out var key, out var subnet))
            return;
        if (Plan.Habits.SubnetOfAppKey.TryGetValue(appKey, out int netKey))
            subnet = _world.Keys.Subnet(netKey);
        byte tid = plan.Tid ?? _tids.GetValueOrDefault(plan.Element, (byte)(PeekSequence(ElementAddress(plan.Element)) & 0xFF));
        RenumberingHabit? renumbering = Plan.Habits.Renumbering;
        _tids[plan.Element] = (byte)((Plan.RaisesTid ? tid + (renumbering?.Times ?? 1) : tid) & 0xFF);
        truth.Dst = dst;
        truth.Tid = tid;
        truth.Ttl = ttl;
        truth.Opcode = string.Create(CultureInfo.InvariantCulture, $"0x{request.Opcode(plan.Acknowledged):X4}");
        AccessMessage Make(byte number) => new()
        {
            Name = request.MessageName(plan.Acknowledged), Payload = request.Write(plan.Acknowledged, number, plan.TransitionMs), Key = key,
            Subnet = subnet,
            Src = ElementAddress(plan.Element), Dst = dst, Ttl = ttl, Request = request, Tid = number, Acknowledged = plan.Acknowledged,
            Press = truth,
        };
        var session = new PressSession(this, _world, plan, truth, () => Make(tid));
        session.SendOnce(publish?.RetransmitCount ?? 0, publish?.RetransmitIntervalMs ?? 50);
        for (int i = 1; i < renumbering?.Times; i++)
        {
            byte number = (byte)(tid + i);
            _world.Time.After(i * renumbering.IntervalUs, () =>
            {
                if (Send(Make(number)) is { } flood)
                    truth.Requests.Add(flood);
            });
        }
    }

    /// <summary>A long vendor message.</summary>
    internal void StartTransfer(TransferPlan plan)
    {
        if (!Station.On || _outside || !_world.Keys.TryFindAppKey(plan.AppKey, out var key, out var subnet) || !_appKeys.Contains(plan.AppKey))
            return;
        byte[] payload = new byte[plan.Octets];
        (payload[0], payload[1], payload[2]) = (0xC1, 0xFF, 0xFF);   // vendor opcode 1 of company 0xFFFF, which is for tests
        _random.Fill(payload.AsSpan(3));
        Send(new AccessMessage
        {
            Name = "vendor message", Payload = payload, Key = key, Subnet = subnet, Src = ElementAddress(plan.Element), Dst = plan.To,
            Ttl = TtlOf(plan.Ttl ?? 255), LongMic = plan.LongMic,
        });
    }
}

/// <summary>One press until it is answered or given up: repeats keep the TID and take a new SEQ.</summary>
internal sealed class PressSession(MeshNode node, MeshWorld world, PressPlan plan, PressTruth truth, Func<AccessMessage> make)
{
    private int _tries;

    internal void SendOnce(int retransmitCount, int retransmitIntervalMs)
    {
        _tries++;
        for (int i = 0; i <= retransmitCount; i++)
        {
            world.Time.After(i * retransmitIntervalMs * 1000L, () =>
            {
                if (node.Send(make()) is { } flood)
                    truth.Requests.Add(flood);
            });
        }
        if (plan.Acknowledged && _tries < plan.Tries)
        {
            world.Time.After(plan.RetryUs, () =>
            {
                if (!truth.Answers.Values.Any(answer => answer.ArrivedUs is not null))
                    SendOnce(retransmitCount, retransmitIntervalMs);
            });
        }
    }
}
