using MeshTrace.Protocol;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Synthesis.Nodes.Friendship;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Friendship (Mesh Protocol 1.1 §3.6.6): where the two machines meet the node's layers.</summary>
internal sealed partial class MeshNode
{
    private LowPowerMachine? _lowPower;
    private FriendMachine? _friend;
    private int _rssiDbm;

    internal bool IsInNetwork => Provisioned;

    /// <summary>Groups and virtual addresses that some model subscribes to.</summary>
    internal IEnumerable<MeshAddress> Subscriptions() =>
        _elements.SelectMany(element => element.Models).SelectMany(model => model.Subscribe).Distinct().Order();

    private void StartFriendship()
    {
        if (Plan.Friend == 1)
            _friend = new FriendMachine(this, _world, _random.Fork("friend"));
        if (Plan.Friendship is { } plan)
        {
            _lowPower = new LowPowerMachine(this, _world, plan, _random.Fork("low power"));
            _lowPower.Start();
        }
    }

    /// <summary>Sends a friendship message: once, for the other side listens at one moment only, or may ask again.</summary>
    internal void SendFriendship(FriendshipContent content, MeshAddress dst, byte ttl, FriendshipBond? bond, int rssiDbm = 0)
    {
        if (!Station.On || _outside)
            return;
        byte[] transport = FriendshipMessages.Write(content, rssiDbm);
        var pdu = MakePdu(_keys.Sending(Plan.NetKeys[0]), true, NextSequence(Unicast), Unicast, dst, transport, ttl, content,
            FriendshipMessages.NameOf(content), null, null, null, bond);
        _cache.Add(pdu.IvIndex, pdu.Src, pdu.Seq);
        Transmit(pdu, ttl, ttl == 0 ? Once : Plan.NetworkTransmit, 300);
    }

    /// <summary>Friend Update (§3.6.5.2): the state of the network, as a beacon tells it, and whether more waits.</summary>
    internal void SendUpdate(FriendshipBond bond, bool moreData) => SendFriendship(
        new FriendUpdateContent(IvIndex, _ivUpdateInProgress, _keys.PhaseOf(Plan.NetKeys[0]) == 2, moreData), bond.Lpn.Unicast, 0, bond);

    /// <summary>A stored PDU: as it was, but under the friendship's credentials.</summary>
    internal void GiveTo(FriendshipBond bond, PduAtTtl stored)
    {
        if (Station.On && bond.Friend == this)
            Transmit(stored.Pdu, stored.Ttl, Once, 300);
    }

    /// <summary>A PDU under friendship credentials: for the other one of the pair, and never relayed.</summary>
    private void ReceiveFromFriend(MeshPdu pdu, byte ttl)
    {
        if (Owns(pdu.Src) || !pdu.Bond!.IsOf(this) || !_cache.Add(pdu.IvIndex, pdu.Src, pdu.Seq))
            return;
        if (pdu.Bond.Lpn == this)
        {
            _lowPower?.Answered(pdu);
            if (pdu.Content is FriendUpdateContent update)
            {
                FollowKeyRefresh(pdu.Subnet, update.KeyRefresh);
                FollowIvIndex(update.IvIndex, update.IvUpdate);
            }
        }
        Deliver(pdu, ttl);
    }

    private void TakeFriendship(MeshPdu pdu, FriendshipContent content)
    {
        switch (content)
        {
            case FriendRequestContent request:
                _friend?.Request(request, _rssiDbm);
                break;
            case FriendOfferContent offer when offer.Bond.Lpn == this:
                _lowPower?.Offered(offer, _rssiDbm);
                break;
            case FriendPollContent poll when pdu.Bond?.Friend == this:
                _friend?.Poll(pdu.Bond, poll.Fsn);
                break;
            case SubscriptionListContent list when pdu.Bond?.Friend == this:
                _friend?.Change(pdu.Bond, list);
                break;
            case FriendClearContent clear:
                _friend?.Cleared(clear, pdu.Src);
                break;
            case FriendClearConfirmContent confirm:
                _friend?.ClearConfirmed(confirm);
                break;
        }
    }

    /// <summary>Acknowledges segments on behalf of the Low Power node that is addressed (OBO, §3.5.2.3.1).</summary>
    private void AcknowledgeOnBehalf(SegmentContent of, uint block)
    {
        var message = of.Message;
        byte[] transport = new byte[SegmentAcknowledgment.Length];
        SegmentAcknowledgment.Write(transport, true, (ushort)(message.Seq & 0x1FFF), block);
        byte ttl = message.Ttl == 0 ? (byte)0 : (byte)Plan.DefaultTtl;
        var pdu = MakePdu(message.Subnet, true, NextSequence(Unicast), Unicast, message.Src, transport, ttl,
            new AckContent(message.Dst, message.Seq, block), "Segment Acknowledgment", null, of.Truth, null);
        if (Originate(pdu, ttl))
            of.Truth.Acks.Add((pdu.Truth, Unicast, block));
    }

    /// <summary>Segments for a Low Power node: kept until all are there, then stored in its queue (§3.5.5).</summary>
    private readonly Dictionary<(ushort Src, uint Seq), FriendReassembly> _keptForLpn = [];

    /// <summary>What the Friend keeps of a PDU that it received or sent.</summary>
    private void StoreForLpn(MeshPdu pdu, byte ttl)
    {
        if (_friend is null)
            return;
        if (pdu.Content is not SegmentContent segment)
        {
            _friend.Store(pdu, ttl);
            return;
        }
        var key = (pdu.Src.Value, segment.Message.Seq);
        if (!_keptForLpn.TryGetValue(key, out var kept))
        {
            bool acknowledges = _friend.BondFor(pdu.Dst) is not null;
            kept = new FriendReassembly(_world, this, segment, acknowledges ? AcknowledgeOnBehalf : null, whole =>
            {
                foreach (PduAtTtl one in whole)
                    _friend.Store(one.Pdu, one.Ttl);
            });
            _keptForLpn.Add(key, kept);
        }
        kept.Take(segment, new PduAtTtl(pdu, ttl));
    }
}
