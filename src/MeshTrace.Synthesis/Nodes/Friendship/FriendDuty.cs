using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Nodes.Friendship;

/// <summary>
/// What a Friend does for one Low Power node (Mesh Protocol 1.1 §3.5.5, §3.6.6.3, §3.6.6.4): keeps messages for it in the Friend Queue and
/// gives one for each Friend Poll.
/// </summary>
internal sealed class FriendDuty
{
    private readonly MeshNode _friend;
    private readonly MeshWorld _world;
    private readonly Randomness _random;
    private readonly LinkedList<PduAtTtl> _queue = new();
    private readonly HashSet<ushort> _subscriptions = [];
    private readonly Action<FriendDuty> _over;
    private PduAtTtl? _given;
    private int _lastFsn = -1;
    private Alarm? _timeout;

    internal FriendDuty(MeshNode friend, MeshWorld world, FriendshipBond bond, Randomness random, Action<FriendDuty> over)
    {
        (_friend, _world, Bond, _random, _over) = (friend, world, bond, random, over);
        Bond.Truth = world.Truth.Friendship(bond, world.Time.NowUs);
    }

    internal FriendshipBond Bond { get; }

    private MeshNode Lpn => Bond.Lpn;

    /// <summary>True for an address that the Friend keeps messages for.</summary>
    private bool IsFor(MeshAddress dst) => Lpn.Owns(dst) || _subscriptions.Contains(dst.Value) || dst == MeshAddress.AllNodes;

    /// <summary>A PDU that this node received or sent. With TTL 2 or more it is kept with TTL lowered by 1; where the queue is full the
    /// oldest falls out (§3.5.5).</summary>
    internal void Store(MeshPdu pdu, byte ttl)
    {
        if (ttl < 2 || Lpn.Owns(pdu.Src) || !IsFor(pdu.Dst) || pdu.Content is FriendshipContent)
            return;
        if (pdu.Content is AckContent newer)
        {
            // A newer acknowledgment of the same message takes the place of the older one.
            for (var at = _queue.First; at is not null; at = at.Next)
            {
                if (at.Value.Pdu.Content is AckContent older && older.SeqAuth == newer.SeqAuth && at.Value.Pdu.Src == pdu.Src)
                {
                    _queue.Remove(at);
                    break;
                }
            }
        }
        if (_queue.Count >= Bond.QueueSize && _queue.First is { } oldest)
        {
            _queue.RemoveFirst();
            Bond.Truth!.Dropped++;
            MeshNode.PressOf(oldest.Value.Pdu)?.Note(Lpn.Unicast, Truth.Reach.FriendQueueFull);
        }
        _queue.AddLast(new PduAtTtl(pdu.Under(Bond), (byte)(ttl - 1)));
        Bond.Truth!.Stored++;
    }

    /// <summary>
    /// A Friend Poll: with another FSN than before the message given last has arrived and leaves the queue; with the same one it is given
    /// again (§3.6.6.4.2). An empty queue is told by a Friend Update.
    /// </summary>
    internal void Poll(int fsn)
    {
        StayAlive();
        Bond.Truth!.Polls++;
        if (fsn != _lastFsn)
        {
            if (_given is not null && _queue.Remove(_given))
                Bond.Truth.Delivered++;
            _given = _lastFsn < 0 || _queue.First is null ? null : _queue.First.Value;
            _lastFsn = fsn;
        }
        PduAtTtl? answer = _given;
        if (answer is not null && !_queue.Contains(answer))
            answer = _given = null;   // fell out while it waited for the poll that asks for it again
        AnswerInWindow(() =>
        {
            if (answer is not null)
                _friend.GiveTo(Bond, answer);
            else
                _friend.SendUpdate(Bond, moreData: _queue.Count > 0);
        });
    }

    /// <summary>Friend Subscription List Add or Remove: carried out and confirmed with its transaction number.</summary>
    internal void Change(SubscriptionListContent list)
    {
        StayAlive();
        foreach (MeshAddress address in list.Addresses)
        {
            if (!list.Adds)
                _subscriptions.Remove(address.Value);
            else if (_subscriptions.Count < _friend.Plan.FriendSubscriptionListSize)
                _subscriptions.Add(address.Value);
        }
        AnswerInWindow(() => _friend.SendFriendship(new SubscriptionListConfirmContent(list.TransactionNumber), Lpn.Unicast, 0, Bond));
    }

    internal void End(string outcome)
    {
        _timeout?.Cancelled = true;
        Bond.Truth!.End(_world.Time.NowUs, outcome);
        _over(this);
    }

    private void StayAlive()
    {
        _timeout?.Cancelled = true;
        _timeout = _world.Time.After(Bond.Terms.PollTimeoutUs, () => End("poll-timeout"));
    }

    /// <summary>Not before ReceiveDelay and within ReceiveWindow after it (§3.6.6.4.1); early in it, so that the PDU still fits.</summary>
    private void AnswerInWindow(Action answer) => _world.Time.After(
        (Bond.Terms.ReceiveDelayMs * 1000L) + _random.Below(Math.Max(1, Bond.ReceiveWindowMs * 300L)), answer);
}
