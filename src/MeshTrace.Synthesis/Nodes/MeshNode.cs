using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes.Provisioning;
using MeshTrace.Synthesis.Nodes.Proxy;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>A mesh node. This part is its network layer (Mesh Protocol 1.1 §3.4): sending, receiving, cache, relay.</summary>
internal sealed partial class MeshNode : IListener
{
    private readonly MeshWorld _world;
    private readonly Advertiser _bearer;
    private readonly Randomness _random;
    private readonly NetworkMessageCache _cache;
    private readonly ReplayList _replay;
    private readonly uint[] _sequence;
    private readonly bool _relayMeant;
    private long _relayFreeUs;

    internal MeshNode(MeshWorld world, NodePlan plan, bool relayMeant, Station station, Randomness random)
    {
        (_world, Plan, Station, _random, _relayMeant) = (world, plan, station, random, relayMeant);
        _bearer = new Advertiser(world.Time, world.Medium, station, random.Fork("bearer"), plan.Address, plan.RotationUs);
        _cache = new NetworkMessageCache(plan.CacheSize);
        _replay = new ReplayList(plan.ReplayListSize);
        foreach (ExclusionPlan exclusion in world.Actual.Network.Exclusions.Where(exclusion => !plan.Owns(exclusion.Address)))
            _replay.Accept(exclusion.Address, world.Actual.Network.IvIndex, exclusion.LastSequence);
        _sequence = new uint[plan.Elements.Count];
        Array.Fill(_sequence, plan.FirstSequence);
        IvIndex = plan.IvIndex ?? world.Actual.Network.IvIndex;
        _keys = new NodeKeys(world.Keys, plan.NetKeys);
        DeviceKey = new AccessKey(new Protocol.Security.AesKey(plan.DeviceKey), 0, null, this);
        _outside = world.Actual.JoinsLater(plan.Name);
        bool configured = plan.Configured && !_outside;
        _elements = configured ? plan.Elements : [.. plan.Elements.Select(Bare)];
        _appKeys = configured ? [.. plan.AppKeys] : [];
    }

    internal NodePlan Plan { get; }
    internal Station Station { get; }
    internal uint IvIndex { get; private set; }
    internal AccessKey DeviceKey { get; private set; }
    internal MeshAddress Unicast => Plan.Unicast;
    private long Now => _world.Time.NowUs;

    internal bool Owns(MeshAddress address) => Plan.Owns(address);

    internal MeshAddress ElementAddress(int element) => new((ushort)(Plan.Unicast.Value + element));

    /// <summary>The node loses its stored sequence number, or jumps ahead of it.</summary>
    internal void SetSequence(SequencePlan plan)
    {
        for (int i = 0; i < _sequence.Length; i++)
            _sequence[i] = plan.IsForward ? (_sequence[i] + plan.Sequence) & 0xFFFFFF : plan.Sequence;
    }

    /// <summary>Takes the next SEQ of the element that owns the address (each element has its own, §3.8.3).</summary>
    private uint NextSequence(MeshAddress src)
    {
        ref uint sequence = ref _sequence[src.Value - Unicast.Value];
        uint taken = sequence;
        sequence = (sequence + 1) & 0xFFFFFF;
        return taken;
    }

    private uint PeekSequence(MeshAddress src) => _sequence[src.Value - Unicast.Value];

    /// <summary>Sends a Network PDU of its own. False: the output filter of §3.4.5.2 drops what originates with TTL 1.</summary>
    private bool Originate(MeshPdu pdu, byte ttl)
    {
        if (ttl == 1 || !Station.On)
            return false;
        _cache.Add(pdu.IvIndex, pdu.Src, pdu.Seq);
        Transmit(pdu, ttl, Plan.NetworkTransmit, _random.Between(500, 3000));
        StoreForLpn(pdu, ttl);
        Notify(pdu, ttl, null);
        if (!pdu.Dst.IsUnicast)
            _world.Time.After(1000, () => Deliver(pdu, ttl));   // its own subscriptions hear it too
        return true;
    }

    private void Transmit(MeshPdu pdu, byte ttl, Repetition repetition, long delayUs)
    {
        if (Plan.Phone is not null)
        {
            _link?.Write(pdu, ttl);
            return;
        }
        _bearer.Send(pdu.AdvDataAt(ttl), repetition, delayUs, new PduAtTtl(pdu, ttl),
            timeUs => _world.Truth.Sent(pdu.Truth, new EventTruth(timeUs, Station, ttl, pdu.Bond is not null)));
    }

    public void Hear(Transmission packet, int rssiDbm)
    {
        switch (packet.What!.Cargo)
        {
            case PduAtTtl heard:
                _rssiDbm = rssiDbm;
                Receive(heard.Pdu, heard.Ttl);
                break;
            case ProvisioningCargo provisioning:
                HearProvisioning(provisioning);
                break;
            case BeaconTruth { Content: { } told } beacon:
                if (beacon.By.Plan.NetKeys[0] == Plan.NetKeys[0])
                    _beaconsObserved++;
                HearBeacon(told);
                break;
        }
    }

    public void Miss(Transmission packet, int rssiDbm, Missed reason)
    {
        if (packet.What!.Cargo is PduAtTtl { Pdu.Content: WholeContent { Message: { Press: { } press, IsAnswer: false } } }
            && press.TargetNodes.Contains(Station.Index))
        {
            press.Note(Unicast, reason switch
            {
                Missed.NotListening => Reach.NotListening,
                Missed.Transmitting => Reach.Transmitting,
                Missed.Collided => Reach.Collided,
                _ => rssiDbm >= Station.SensitivityDbm ? Reach.Weak : Reach.OutOfRange,
            });
        }
    }

    /// <summary>§3.4.6.2 and §3.4.6.3: network key, IV index, cache; then the transport above, the relay and the proxy.</summary>
    /// <param name="pdu">What came.</param>
    /// <param name="ttl">At this TTL.</param>
    /// <param name="phone">The connection by which it came; null: it came by the advertising bearer.</param>
    private void Receive(MeshPdu pdu, byte ttl, ProxyLink? phone = null)
    {
        PressTruth? press = PressOf(pdu);
        if (!Provisioned)
            return;
        if (!_keys.Holds(pdu.Subnet))
        {
            press?.Note(Unicast, Reach.NetKeyUnknown);
            return;
        }
        if (pdu.IvIndex != IvIndex && pdu.IvIndex + 1 != IvIndex)
        {
            press?.Note(Unicast, Reach.IvIndexApart);
            return;
        }
        if (pdu.Bond is not null)
        {
            ReceiveFromFriend(pdu, ttl);
            return;
        }
        if (_lowPower is { HasFriend: true } || Owns(pdu.Src) || LostHere(pdu) || !_cache.Add(pdu.IvIndex, pdu.Src, pdu.Seq))
            return;
        StoreForLpn(pdu, ttl);
        Deliver(pdu, ttl);
        if (Owns(pdu.Dst))
            return;   // an own unicast address ends here
        if (ttl >= 2)
            Notify(pdu, (byte)(ttl - 1), phone);
        if (phone is not null)
        {
            PutOnAir(pdu, ttl, phone);
            return;
        }
        if (Plan.Relay != 1)
        {
            if (_relayMeant)
                pdu.Truth.RelayWasOff.Add(this);
        }
        else if (ttl < 2)
            pdu.Truth.StoppedByTtl.Add(this);
        else if (QueueDelayUs() is { } queueUs)
            Transmit(pdu, (byte)(ttl - 1), Plan.RelayRetransmit, queueUs + 500 + _random.Below((Plan.RelayDelayMs * 1000L) + 1));
    }

    /// <summary>A fault: the relay's queue. How long a PDU waits in it, or null where there is no room.</summary>
    private long? QueueDelayUs()
    {
        if (Plan.Habits.RelayQueue is not { } queue)
            return 0;
        long waits = Math.Max(0, _relayFreeUs - Now);
        if (waits > queue.Room * queue.PaceUs)
            return null;
        _relayFreeUs = Now + waits + queue.PaceUs;
        return waits + queue.PaceUs;
    }

    /// <summary>A fault: answers or acknowledgments of some node do not get through to their destination.</summary>
    private bool LostHere(MeshPdu pdu)
    {
        if (!Owns(pdu.Dst))
            return false;
        bool answer = pdu.Content is WholeContent { Message.IsAnswer: true }, acknowledgment = pdu.Content is AckContent;
        if (!answer && !acknowledgment)
            return false;
        foreach (MeshNode node in _world.Nodes)
        {
            if (node.Owns(pdu.Src))
            {
                var lost = answer ? node.Plan.AnswersLost : node.Plan.AcknowledgmentsLost;
                return lost.Exists(span => Now >= span.FromUs && Now < span.UntilUs);
            }
        }
        return false;
    }

    internal static PressTruth? PressOf(MeshPdu pdu) => pdu.Content switch
    {
        WholeContent { Message: { IsAnswer: false, Press: { } press } } => press,
        SegmentContent { Message: { IsAnswer: false, Press: { } press } } => press,
        _ => null,
    };
}
