using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>
/// A Low Power node polls its Friend in vain and looks for another. That it got no answer, it says itself: FSN stays the same until one came (Mesh
/// Protocol 1.1 §3.6.6.4.2), so nothing rests on what was not heard.
/// </summary>
internal sealed class FriendLost : IFindingRule
{
    /// <summary>Polls with one FSN (ours); with numbers unheard between them, two polls that were heard (ours).</summary>
    private const int EnoughPolls = 3, FewPolls = 2;

    /// <summary>So many polls without an answer end the friendship (Mesh Protocol 1.1 §3.6.6, from memory).</summary>
    private const int AllPolls = 6;

    /// <summary>A request that comes later than this after the last poll has another reason (ours).</summary>
    private const double LookAroundSeconds = 60;

    public string Id => "friend-lost";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach (LpnTalk talk in LpnTalk.Of(history))
        {
            var lost = new List<Loss>();
            Follow(talk, lost);
            foreach (IGrouping<MeshAddress, Loss> friend in lost.GroupBy(one => one.Polls[0].Friend))
                Tell(history, findings, talk.Lpn, friend.Key, [.. friend]);
        }
    }

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
