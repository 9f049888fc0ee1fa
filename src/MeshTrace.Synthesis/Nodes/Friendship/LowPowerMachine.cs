using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes.Friendship;

/// <summary>
/// The Low Power feature of a node (Mesh Protocol 1.1 §3.6.6.4): looks for a Friend, tells it its subscriptions, polls it for messages, and
/// listens only when an answer is due.
/// </summary>
internal sealed class LowPowerMachine(MeshNode node, MeshWorld world, LowPowerPlan plan, Randomness random)
{
    private const long ListensFromUs = 100_000, ChoosesUs = 900_000;

    /// <summary>A poll without an answer is sent again; after so many the Friend counts as lost (from memory).</summary>
    private const int PollTries = 6;

    /// <summary>Addresses in one Subscription List message: more would need segments.</summary>
    private const int AddressesAtOnce = 5;

    private readonly List<(FriendshipBond Bond, int RssiDbm)> _offers = [];
    private readonly Queue<SubscriptionListContent> _lists = new();
    private int _tries;
    private FriendshipContent? _asked;
    private FriendshipBond? _bond;
    private MeshAddress _previous = MeshAddress.Unassigned;
    private ushort _counter = (ushort)random.Below(0x8000);
    private byte _transaction;
    private int _fsn;
    private bool _established;
    private Alarm? _next, _over;

    /// <summary>True while PDUs that do not come from its Friend pass it by.</summary>
    internal bool HasFriend => _established;

    internal void Start()
    {
        world.Time.At(plan.FromUs, () =>
        {
            node.Station.Listening = false;
            Request();
        });
        foreach (var (atUs, address) in plan.Removes)
            world.Time.At(atUs, () => _lists.Enqueue(new SubscriptionListContent(false, _transaction++, [address])));
    }

    /// <summary>An answer is expected soon: the next poll is brought forward.</summary>
    internal void PollSoon()
    {
        if (_established && _asked is null)
            Next(200_000);
    }

    internal void Offered(FriendOfferContent offer, int rssiDbm)
    {
        if (_bond is null && offer.Bond.LpnCounter == unchecked((ushort)(_counter - 1)))
            _offers.Add((offer.Bond, rssiDbm));
    }

    /// <summary>Something came from the Friend. Everything but the confirmation of a list is the answer to the poll: FSN flips.</summary>
    internal void Answered(MeshPdu pdu)
    {
        if (pdu.Bond != _bond || _bond is null || _asked is null)
            return;
        FriendshipContent asked = _asked;
        bool confirms = pdu.Content is SubscriptionListConfirmContent;
        if (confirms != asked is SubscriptionListContent)
            return;
        _asked = null;
        _over?.Cancelled = true;
        _tries = 0;
        node.Station.Listening = false;
        if (!confirms)
            _fsn ^= 1;
        if (!_established)
            Establish();
        if (confirms && _lists.Count > 0)
            _lists.Dequeue();
        bool more = pdu.Content is not FriendUpdateContent { MoreData: false };
        if (_lists.TryPeek(out var list))
            Ask(list, 50_000);
        else
            Next(confirms || !more ? plan.PollUs : random.Between(20_000, 60_000));
    }

    private void Request()
    {
        if (!node.Station.On || !node.IsInNetwork)
        {
            world.Time.After(1_000_000, Request);
            return;
        }
        _offers.Clear();
        _bond = null;
        node.SendFriendship(new FriendRequestContent(node, plan.Terms, _previous, unchecked(_counter++)), MeshAddress.AllFriends, 0, null);
        world.Time.After(ListensFromUs, () => node.Station.Listening = true);
        world.Time.After(ChoosesUs, Choose);
    }

    /// <summary>The Friend that is heard best; without any, the request is made again.</summary>
    private void Choose()
    {
        node.Station.Listening = false;
        if (_offers.Count == 0)
        {
            world.Time.After(plan.RetryUs + random.Below(500_000), Request);
            return;
        }
        _bond = _offers.MaxBy(offer => offer.RssiDbm).Bond;
        (_fsn, _tries) = (0, 0);
        Ask(new FriendPollContent(_fsn), 0);
    }

    private void Establish()
    {
        _established = true;
        _previous = MeshAddress.Unassigned;
        _lists.Clear();
        _transaction = 0;
        foreach (MeshAddress[] some in node.Subscriptions().Except(plan.Removes.Where(item => item.AtUs <= world.Time.NowUs).Select(item => item.Address)).Chunk(AddressesAtOnce))
            _lists.Enqueue(new SubscriptionListContent(true, _transaction++, some));
    }

    private void Next(long delayUs)
    {
        _next?.Cancelled = true;
        _next = world.Time.After(delayUs, () =>
        {
            if (_asked is null)
                Ask(_lists.TryPeek(out var list) ? list : new FriendPollContent(_fsn), 0);
        });
    }

    private void Ask(FriendshipContent what, long delayUs)
    {
        _asked = what;
        FriendshipBond bond = _bond!;
        world.Time.After(delayUs, () =>
        {
            if (_bond != bond)
                return;
            node.SendFriendship(what, bond.Friend.Unicast, 0, bond);
            world.Time.After((bond.Terms.ReceiveDelayMs - 2) * 1000L, () => node.Station.Listening = true);
            _over = world.Time.After((bond.Terms.ReceiveDelayMs + bond.ReceiveWindowMs + 15) * 1000L, Unanswered);
        });
    }

    private void Unanswered()
    {
        node.Station.Listening = false;
        FriendshipContent asked = _asked!;
        if (++_tries < PollTries)
        {
            Ask(asked, random.Between(50_000, 150_000));
            return;
        }
        if (_established)
        {
            _previous = _bond!.Friend.Unicast;
            world.Truth.Happened(world.Time.NowUs, "friend-lost", node, _bond.Friend);
        }
        (_asked, _bond, _established) = (null, null, false);
        _next?.Cancelled = true;
        world.Time.After(plan.RetryUs + random.Below(500_000), Request);
    }
}
