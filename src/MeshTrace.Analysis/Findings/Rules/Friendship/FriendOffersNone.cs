using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>
/// A Low Power node asks for a Friend again and again and polls none: it takes no offer. It says so itself, by asking again; LPNCounter tells how many
/// requests lie between two that were heard.
/// </summary>
internal sealed class FriendOffersNone : IFindingRule
{
    private const int EnoughRequests = 3;

    /// <summary>An offer comes within a second, and the node polls within another (Mesh Protocol 1.1 §3.6.6.3.1): only then it asks again.</summary>
    private const double LeastSeconds = 1.1;

    /// <summary>Later requests may follow a friendship that nobody heard (ours).</summary>
    private const double MostSeconds = 60;

    public string Id => "friend-offers-none";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach (LpnTalk talk in LpnTalk.Of(history))
        {
            var rows = new List<List<LpnSaid>>();
            var row = new List<LpnSaid>();
            foreach (LpnSaid said in talk.Said)
            {
                if (said.Word is LpnWord.Offer)
                    continue;
                if (said.Word != LpnWord.Request || (row.Count > 0 && !Follows(talk, row[^1], said)))
                    Close();
                // One that names the Friend before it has lost that one: friend-lost tells it.
                if (said.Word == LpnWord.Request && !said.Friend.IsUnicast)
                    row.Add(said);
            }
            Close();
            if (rows.Count > 0)
                Tell(history, findings, talk, rows);

            void Close()
            {
                if (AskedIn(row) >= EnoughRequests)
                    rows.Add([.. row]);
                row.Clear();
            }
        }
    }

    /// <summary>Requests from the first of a row to its last one, heard or not.</summary>
    private static int AskedIn(List<LpnSaid> row) => row.Count == 0 ? 0 : unchecked((ushort)(row[^1].Value - row[0].Value)) + 1;

    /// <summary>Between the two it made nothing but requests: any other number that nobody heard may be a poll.</summary>
    private static bool Follows(LpnTalk talk, LpnSaid before, LpnSaid said) =>
        talk.BetweenRequests(before, said) is var (requests, others) && others == 0
        && Wording.Seconds(before.TimeNs, said.TimeNs) / requests is >= LeastSeconds and <= MostSeconds;

    private void Tell(CaptureHistory history, FindingSink findings, LpnTalk talk, List<List<LpnSaid>> rows)
    {
        List<LpnSaid> longest = rows.MaxBy(AskedIn)!;
        List<LpnSaid> offers = [.. talk.Said.Where(said => said.Word == LpnWord.Offer && rows.Exists(row => said.TimeNs >= row[0].TimeNs && said.TimeNs <= row[^1].TimeNs))];
        string heard = offers.Count == 0 ? "no offer to it was heard"
            : $"offers of {string.Join(", ", offers.Select(offer => offer.Friend).Distinct().Take(3).Select(history.Called))} were heard, and it took none";
        findings.Add(Id, Confidence.Likely, longest[0].TimeNs, history.Directory.NodeOf(talk.Lpn), null,
            $"{history.Called(talk.Lpn)} asked {AskedIn(longest)} times in a row for a Friend, within {Wording.Span(Wording.Seconds(longest[0].TimeNs, longest[^1].TimeNs))}: {heard}.",
            [.. rows.SelectMany(row => row).Concat(offers).Select(said => new Evidence("message", said.Message))], Remedy(history, offers.Count > 0));
    }

    private static string? Remedy(CaptureHistory history, bool offered)
    {
        if (offered)
            return "Bring the Low Power node and the Friend nearer to each other, or let it ask for a smaller queue: the offers do not reach it, or do not suit it.";
        DescribedNode[] described = [.. history.Directory.Description?.Nodes ?? []];
        bool none = described.Length > 0 && described.All(node => node.Features.Friend is FeatureState.Disabled or FeatureState.NotSupported);
        return none ? "No node of the description has the Friend feature switched on: switch it on (Config Friend Set) at a mains-powered node within its reach." : null;
    }
}
