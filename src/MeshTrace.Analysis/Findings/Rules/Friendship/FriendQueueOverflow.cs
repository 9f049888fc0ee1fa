using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>Between two polls more messages came for a Low Power node than its Friend's queue holds: the oldest are lost (Mesh Protocol 1.1 §3.5.5).</summary>
internal sealed class FriendQueueOverflow : IFindingRule
{
    /// <summary>Polls nearer to each other fetch what is in the queue (ours).</summary>
    private const double LeastSeconds = 1;

    /// <summary>A Friend stores what comes with TTL 2 or more (§3.5.5, from memory).</summary>
    private const int LeastTtl = 2;

    /// <summary>Once, the Friend may not have heard them all (ours).</summary>
    private const int EnoughTimes = 2;

    public string Id => "friend-queue-overflow";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach (LpnTalk talk in LpnTalk.Of(history))
        {
            var overflows = new Dictionary<MeshAddress, List<Overflow>>();
            List<(long FromNs, long ToNs, LpnSaid Offer)> pauses = [.. PausesOf(talk)];
            if (pauses.Count == 0)
                continue;
            List<(long TimeNs, int Flood)> stored = StoredFor(history, talk);
            foreach ((long from, long to, LpnSaid offer) in pauses)
            {
                List<int> floods = [.. stored.Where(one => one.TimeNs > from && one.TimeNs < to).Select(one => one.Flood)];
                if (floods.Count <= offer.Value)
                    continue;
                if (!overflows.TryGetValue(offer.Friend, out List<Overflow>? some))
                    overflows.Add(offer.Friend, some = []);
                some.Add(new Overflow(from, to, offer, floods));
            }
            foreach ((MeshAddress friend, List<Overflow> some) in overflows)
                Tell(history, findings, talk.Lpn, friend, some);
        }
    }

    /// <summary>Times between two polls that follow each other, with what the Friend had offered. A poll unheard between them would part the time.</summary>
    private static IEnumerable<(long FromNs, long ToNs, LpnSaid Offer)> PausesOf(LpnTalk talk)
    {
        var offers = new Dictionary<MeshAddress, LpnSaid>();
        LpnSaid? before = null;
        foreach (LpnSaid said in talk.Said)
        {
            if (said.Word == LpnWord.Offer)
                offers[said.Friend] = said;
            else if (said.Word == LpnWord.Request)
                before = null;
            else if (said.Word == LpnWord.Poll)
            {
                if (before is { } last && last.Friend == said.Friend && Wording.Seconds(last.TimeNs, said.TimeNs) >= LeastSeconds
                    && talk.UnheardBetween(last.Seq, said.Seq) == 0 && offers.TryGetValue(said.Friend, out LpnSaid offer))
                    yield return (last.TimeNs, said.TimeNs, offer);
                before = said;
            }
        }
    }

    /// <summary>Network PDUs that the Friend has to store for the node: to its elements and to the groups that it told its Friend, or is known to subscribe to.</summary>
    private static List<(long TimeNs, int Flood)> StoredFor(CaptureHistory history, LpnTalk talk)
    {
        HashSet<MeshAddress> groups = talk.GroupsTold(history);
        if (groups.Count == 0 && history.NodeModels is { } models)
        {
            NodeState state = models.Of(talk.Lpn).At(long.MaxValue);
            groups.UnionWith(state.Models.Members.SelectMany(model => state.SubscriptionsOf(model).Members));
        }
        var stored = new List<(long TimeNs, int Flood)>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            bool meant = flood.Dst.IsUnicast ? history.Directory.NodeOf(flood.Dst) == talk.Lpn : groups.Contains(flood.Dst) || flood.Dst == MeshAddress.AllNodes;
            if (meant && flood.Credentials == Credentials.Flooding && history.Directory.NodeOf(flood.Src) != talk.Lpn && flood.HighestTtl >= LeastTtl && !IsOffer(history, in flood))
                stored.Add((flood.FirstTimeNs, row));
        }
        return stored;
    }

    /// <summary>Offers and what else belongs to the making of a friendship goes straight to the node.</summary>
    private static bool IsOffer(CaptureHistory history, in FloodRow flood) =>
        flood.Ctl && flood.Message is { } message && history.Messages[message].Opcode.Value is >= 0x01 and <= 0x09;

    private void Tell(CaptureHistory history, FindingSink findings, MeshAddress lpn, MeshAddress friend, List<Overflow> some)
    {
        Overflow worst = some.MaxBy(one => one.Floods.Count)!;
        string often = some.Count > 1 ? $", {Wording.Times(some.Count)} in this capture" : "";
        findings.Add(Id, some.Count >= EnoughTimes ? Confidence.Likely : Confidence.Possible, some[0].FromNs, history.Directory.NodeOf(friend), null,
            $"{worst.Floods.Count} PDUs for {history.Called(lpn)} came within the {Wording.Span(Wording.Seconds(worst.FromNs, worst.ToNs))} between two of its polls{often}; "
            + $"the queue of its Friend {history.Called(friend)} holds {worst.Offer.Value}, so the oldest are lost.",
            [new Evidence("message", worst.Offer.Message), .. worst.Floods.Select(row => new Evidence("flood", row))],
            $"Let {history.Called(lpn)} poll more often or ask for a queue of {worst.Floods.Count} or more (MinQueueSizeLog), and keep it out of groups that it does not need.");
    }

    private sealed record Overflow(long FromNs, long ToNs, LpnSaid Offer, IReadOnlyList<int> Floods);
}
