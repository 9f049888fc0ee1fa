using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>
/// A Low Power node polls its Friend in vain and looks for another. That it got no answer, it says itself: FSN stays the same until one came (Mesh
/// Protocol 1.1 §3.6.6.4.2), so nothing rests on what was not heard. Where no poll of it opens, its requests tell: they name the Friend before
/// (PreviousAddress, §3.6.5.3), and it asks again and again.
/// </summary>
internal sealed class FriendLost : IFindingRule
{
    /// <summary>Polls with one FSN (ours); with numbers unheard between them, two polls that were heard (ours).</summary>
    private const int EnoughPolls = 3, FewPolls = 2;

    /// <summary>So many polls without an answer end the friendship (Mesh Protocol 1.1 §3.6.6, from memory).</summary>
    private const int AllPolls = 6;

    /// <summary>A request that comes later than this after the last poll has another reason (ours).</summary>
    private const double LookAroundSeconds = 60;

    /// <summary>Requests in a row that name the Friend before: one alone may look for a better one (ours).</summary>
    private const int EnoughRequests = 2, SureRequests = 3;

    public string Id => "friend-lost";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach (LpnTalk talk in LpnTalk.Of(history))
        {
            var lost = new List<Loss>();
            Follow(talk, lost);
            foreach (IGrouping<MeshAddress, Loss> friend in lost.GroupBy(one => one.Polls[0].Friend))
                Tell(history, findings, talk.Lpn, friend.Key, [.. friend]);
            foreach (IGrouping<MeshAddress, List<LpnSaid>> friend in RowsOf(talk).GroupBy(row => row[0].Friend))
                if (!lost.Exists(one => one.Polls[0].Friend == friend.Key))
                    Tell(history, findings, talk.Lpn, friend.Key, friend.MaxBy(AskedIn)!);
        }
    }

    /// <summary>
    /// Requests in a row that name the same Friend as the one before. Polls with FSN 0 between them may be tries in vain; FSN 1 says that one was answered.
    /// </summary>
    private static IEnumerable<List<LpnSaid>> RowsOf(LpnTalk talk)
    {
        var row = new List<LpnSaid>();
        foreach (LpnSaid said in talk.Said.Where(said => said.Word == LpnWord.Request || said is { Word: LpnWord.Poll, Value: 1 }))
        {
            bool follows = said.Word == LpnWord.Request && row.Count > 0 && row[^1].Friend == said.Friend && talk.BetweenRequests(row[^1], said) is var (requests, _)
                && Wording.Seconds(row[^1].TimeNs, said.TimeNs) / requests < LookAroundSeconds;
            if (!follows)
            {
                if (AskedIn(row) >= EnoughRequests)
                    yield return row;
                row = [];
            }
            if (said.Word == LpnWord.Request && said.Friend.IsUnicast)
                row.Add(said);
        }
        if (AskedIn(row) >= EnoughRequests)
            yield return row;
    }

    /// <summary>Requests from the first of a row to its last one, by LPNCounter.</summary>
    private static int AskedIn(List<LpnSaid> row) => row.Count == 0 ? 0 : unchecked((ushort)(row[^1].Value - row[0].Value)) + 1;

    private void Tell(CaptureHistory history, FindingSink findings, MeshAddress lpn, MeshAddress friend, List<LpnSaid> requests) =>
        findings.Add(Id, AskedIn(requests) >= SureRequests ? Confidence.Likely : Confidence.Possible, requests[0].TimeNs, history.Directory.NodeOf(friend), null,
            $"{history.Called(lpn)} looks for a Friend, {AskedIn(requests)} times within {Wording.Span(Wording.Seconds(requests[0].TimeNs, requests[^1].TimeNs))}, and names {history.Called(friend)} as the one before: it has lost that one.",
            [.. requests.Select(said => new Evidence("message", said.Message))]);

    private static void Follow(LpnTalk talk, List<Loss> lost)
    {
        var polls = new List<LpnSaid>();
        int unheard = 0;
        foreach (LpnSaid said in talk.Said)
        {
            if (said.Word is not (LpnWord.Poll or LpnWord.Request))
                continue;
            int between = polls.Count == 0 ? 0 : talk.UnheardBetween(polls[^1].Seq, said.Seq);
            bool soon = polls.Count > 0 && Wording.Seconds(polls[^1].TimeNs, said.TimeNs) < LookAroundSeconds;
            if (said.Word == LpnWord.Poll)
            {
                if (polls.Count > 0 && (polls[^1].Friend != said.Friend || polls[^1].Value != said.Value || !soon || between >= AllPolls))
                    End(null, 0);
                else
                    unheard += between;
                polls.Add(said);
                continue;
            }
            End(soon && between < AllPolls ? said : null, between);
        }
        End(null, 0);

        void End(LpnSaid? request, int between)
        {
            if (request is { } looks && (polls.Count >= EnoughPolls || (polls.Count >= FewPolls && unheard > 0)))
                lost.Add(new Loss([.. polls], looks, unheard + between == 0 ? Confidence.Likely : Confidence.Possible));
            else if (request is null && polls.Count >= AllPolls && unheard == 0)
                lost.Add(new Loss([.. polls], null, Confidence.Possible));
            polls.Clear();
            unheard = 0;
        }
    }

    private void Tell(CaptureHistory history, FindingSink findings, MeshAddress lpn, MeshAddress friend, List<Loss> lost)
    {
        Loss first = lost.MaxBy(one => one.Confidence)!;
        string then = first.Request is null ? "" : " and then looked for a Friend again";
        string often = lost.Count > 1 ? $" ({Wording.Times(lost.Count)} in this capture)" : "";
        findings.Add(Id, first.Confidence, lost[0].Polls[0].TimeNs, history.Directory.NodeOf(friend), null,
            $"{history.Called(lpn)} polled its Friend {history.Called(friend)} {first.Polls.Count} times without an answer that reached it{then}{often}.",
            [.. lost.SelectMany(one => one.Request is { } request ? one.Polls.Append(request) : one.Polls).Select(said => new Evidence("message", said.Message))]);
    }

    private sealed record Loss(IReadOnlyList<LpnSaid> Polls, LpnSaid? Request, Confidence Confidence);
}
