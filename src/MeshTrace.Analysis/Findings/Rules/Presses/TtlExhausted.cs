using MeshTrace.Analysis.History;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>Presses are sent with a TTL that ends before the lamp: by the hops that other messages were seen to take.</summary>
internal sealed class TtlExhausted : IFindingRule
{
    /// <summary>Hops to spare in the TTL that is advised: ways change when a relay is missed (ours).</summary>
    private const int Spare = 2;
    private const int HighestTtl = 127;

    public string Id => "ttl-exhausted";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var ranOut = findings.Silences.Rejected.Where(silence => silence.View is { Step: ReceiveStep.Reach, TtlSent: not null });
        foreach (var way in ranOut.GroupBy(silence => (history.Presses[silence.Press].Src, history.Presses[silence.Press].Dst, silence.View.TtlSent!.Value)))
        {
            (MeshAddress src, MeshAddress dst, int ttl) = way.Key;
            Silence[] lost = [.. way];
            List<int> presses = FindingWords.PressesOf(lost);
            MeshAddress[] lamps = [.. lost.Select(silence => silence.Element).Distinct()];
            int needed = lost.Max(silence => silence.View.TtlNeeded ?? 0);
            string away = needed <= ttl && ttl > 1 ? "the last hop of it was heard, but it comes seldom or never to"
                : needed <= ttl ? "no copy can come to"
                : lamps.Length == 1 ? $"other messages take {needed} hops to" : $"other messages take up to {needed} hops to";
            string to = dst.IsUnicast ? "" : $" to {findings.Words.Name(dst)}";
            string though = needed > ttl || ttl <= 1 ? ""
                : lost.All(silence => silence.View.OthersReach) ? ", where messages of others with more TTL arrive" : $", though relays carry what is sent from there {ttl} hops and more";
            findings.AddOver(Id, lost.Max(silence => silence.View.Confidence), history.Presses[presses[0]].TimeNs, history.Directory.NodeOf(src), presses,
                $"{findings.Words.Name(src)} sends{to} with TTL {ttl}, and {away} {findings.Words.Names(lamps)}{though}: {FindingWords.Count(presses.Count, "press", "presses")} did not come through.",
                FindingWords.EvidenceOf(lost), needed > ttl ? $"Set the publish TTL of {findings.Words.Name(src)}, or the default TTL of its node, to {Math.Min(needed + Spare, HighestTtl)}, or put a relay between." : null,
                [.. lamps.Select(history.Directory.NodeOf).Distinct()]);
        }
    }
}
