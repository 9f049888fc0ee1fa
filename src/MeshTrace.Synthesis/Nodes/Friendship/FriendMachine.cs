using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Nodes.Friendship;

/// <summary>The Friend feature of a node (Mesh Protocol 1.1 §3.6.6.3): offers, friendships, Friend Clear.</summary>
internal sealed class FriendMachine(MeshNode node, MeshWorld world, Randomness random)
{
    /// <summary>An offer that no poll takes up within this time is off (§3.6.6.3.1).</summary>
    private const long OfferUs = 1_000_000;
    private static readonly int[] FactorsByHalves = [2, 3, 4, 5];   // 1, 1.5, 2, 2.5

    private readonly Dictionary<MeshNode, (FriendshipBond Bond, FriendRequestContent Request, long OfferedUs)> _offers = [];
    private readonly List<FriendDuty> _duties = [];
    private readonly HashSet<(ushort Lpn, ushort Counter)> _clearing = [];
    private ushort _counter = (ushort)random.Below(0x10000);

    /// <summary>
    /// Friend Request: answered if the queue is long enough, after ReceiveWindowFactor x ReceiveWindow - RSSIFactor x RSSI ms, at least
    /// 100 ms, so that better Friends answer earlier.
    /// </summary>
    internal void Request(FriendRequestContent request, int rssiDbm)
    {
        var terms = request.Terms;
        if (node.Plan.Habits.OffersNothing || node.Plan.FriendQueueSize < 1 << terms.MinQueueSizeLog)
            return;
        int window = node.Plan.FriendReceiveWindowMs;
        long delayMs = Math.Max(100, ((FactorsByHalves[terms.ReceiveWindowFactor] * window) - (FactorsByHalves[terms.RssiFactor] * rssiDbm)) / 2);
        var bond = new FriendshipBond(request.Lpn, node, request.LpnCounter, unchecked(_counter++), terms)
        {
            ReceiveWindowMs = window, QueueSize = node.Plan.FriendQueueSize,
        };
        world.Time.After(delayMs * 1000, () =>
        {
            _offers[request.Lpn] = (bond, request, world.Time.NowUs);
            node.SendFriendship(new FriendOfferContent(bond), request.Lpn.Unicast, 0, null, rssiDbm);
        });
    }

    internal void Poll(FriendshipBond bond, int fsn)
    {
        if (node.Plan.Habits.PollsUnanswered.Exists(span => world.Time.NowUs >= span.FromUs && world.Time.NowUs < span.UntilUs))
            return;
        FriendDuty? duty = DutyOf(bond);
        if (duty is null)
        {
            if (!_offers.TryGetValue(bond.Lpn, out var offer) || offer.Bond != bond || world.Time.NowUs - offer.OfferedUs > OfferUs + 100_000)
                return;
            _offers.Remove(bond.Lpn);
            _duties.Find(old => old.Bond.Lpn == bond.Lpn)?.End("replaced");
            duty = new FriendDuty(node, world, bond, random.Fork("duty", bond.LpnCounter), over => _duties.Remove(over));
            _duties.Add(duty);
            MeshAddress previous = offer.Request.Previous;
            if (previous != MeshAddress.Unassigned && !node.Owns(previous))
                Clear(previous, offer.Request, 1_000_000, world.Time.NowUs + (2 * bond.Terms.PollTimeoutUs));
        }
        duty.Poll(fsn);
    }

    internal void Change(FriendshipBond bond, SubscriptionListContent list) => DutyOf(bond)?.Change(list);

    internal void Store(MeshPdu pdu, byte ttl)
    {
        foreach (FriendDuty duty in _duties)
            duty.Store(pdu, ttl);
    }

    /// <summary>The friendship that segments for this unicast address are acknowledged in, or null.</summary>
    internal FriendshipBond? BondFor(MeshAddress dst) => _duties.Find(duty => duty.Bond.Lpn.Owns(dst))?.Bond;

    /// <summary>The Low Power node has a new Friend: this one is released and says so.</summary>
    internal void Cleared(FriendClearContent clear, MeshAddress from)
    {
        FriendDuty? duty = _duties.Find(known => known.Bond.Lpn.Unicast == clear.Lpn);
        // LPNCounter has moved on by 255 at most, modulo 65536 (§3.6.6.3.1)
        if (duty is not null && (ushort)(clear.LpnCounter - duty.Bond.LpnCounter) <= 255)
            duty.End("cleared");
        else if (duty is not null)
            return;
        node.SendFriendship(new FriendClearConfirmContent(clear.Lpn, clear.LpnCounter), from, (byte)node.Plan.DefaultTtl, null);
    }

    internal void ClearConfirmed(FriendClearConfirmContent confirm) => _clearing.Remove((confirm.Lpn.Value, confirm.LpnCounter));

    internal void EndAll(string outcome)
    {
        foreach (FriendDuty duty in _duties.ToArray())
            duty.End(outcome);
    }

    /// <summary>Friend Clear to the Friend before: again after 1 s, then after twice as long each time, until it is confirmed or twice
    /// PollTimeout is over (§3.6.6.3.1).</summary>
    private void Clear(MeshAddress previous, FriendRequestContent request, long againUs, long untilUs, bool first = true)
    {
        var key = (request.Lpn.Unicast.Value, request.LpnCounter);
        if (first)
            _clearing.Add(key);
        else if (!_clearing.Contains(key) || world.Time.NowUs > untilUs)
            return;
        node.SendFriendship(new FriendClearContent(request.Lpn.Unicast, request.LpnCounter), previous, (byte)node.Plan.DefaultTtl, null);
        world.Time.After(againUs, () => Clear(previous, request, 2 * againUs, untilUs, first: false));
    }

    private FriendDuty? DutyOf(FriendshipBond bond) => _duties.Find(duty => duty.Bond == bond);
}
