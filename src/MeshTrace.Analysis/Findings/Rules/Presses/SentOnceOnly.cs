using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>A node transmits each of its PDUs once: by its settings, or as heard.</summary>
internal sealed class SentOnceOnly : IFindingRule
{
    /// <summary>PDUs heard from the node itself, from which on their repeats tell something (ours).</summary>
    private const int Enough = 10;

    /// <summary>More nodes than this are told in one sentence.</summary>
    private const int MostSingle = 3;

    public string Id => "sent-once-only";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Repeats is not { } repeats)
            return;
        var nodes = new List<(NodeRecord Node, int Row, Confidence Confidence, string How)>();
        int looked = history.Nodes.Count(node => node.FloodsSent >= Enough);
        for (int row = 0; row < history.Nodes.Count; row++)
            if (history.Nodes[row].FloodsSent >= Enough && Judge(history, repeats, history.Nodes[row], looked) is { } judged)
                nodes.Add((history.Nodes[row], row, judged.Confidence, judged.How));
        if (nodes.Count > MostSingle)
        {
            findings.Add(Id, nodes.Min(node => node.Confidence), nodes.Min(node => node.Node.FirstTimeNs ?? 0), null, null,
                $"{nodes.Count} nodes send each PDU once, {findings.Words.Names(nodes.Select(node => node.Node.Unicast))}: one disturbed moment loses it.",
                [.. nodes.Select(node => new Evidence("node", node.Row))]);
            return;
        }
        foreach ((NodeRecord node, int row, Confidence confidence, string how) in nodes)
            findings.Add(Id, confidence, node.FirstTimeNs ?? 0, node.Unicast, null, $"{findings.Words.Name(node.Unicast)} sends each PDU once ({how}): one disturbed moment loses it.",
                [new Evidence("node", row)]);
    }

    private static (Confidence Confidence, string How)? Judge(CaptureHistory history, NodeRepeats repeats, NodeRecord node, int looked)
    {
        RepeatCount? heard = repeats.NetworkTransmitOf(node.Unicast);
        TransmitSetting? set = repeats.Settings.NetworkTransmitAt(node.Unicast, long.MaxValue);
        bool more = heard is not null && Enumerable.Range(2, RepeatCount.MostTransmissions).Any(events => heard.PdusWith(events) > 0);
        if (more)
            return null;        // heard to repeat, whatever the settings say
        if (set is { Transmissions: 1 })
            return (set.Value.Origin == SettingOrigin.Asked ? Confidence.Possible : Confidence.Likely, set.Value.Origin == SettingOrigin.Description ? "so the description says" : "so it was set");
        if (heard is null || heard.Samples < Enough || !history.ReceiverViews.All(view => view.CountsRepeats) || history.HeardShares?.CountOf(node.Unicast) is not { } count)
            return null;
        double chance = ChanceTwoLookLikeOne(heard.Samples, (long)(count.Floods + count.Gaps) * Math.Max(1, history.ReceiverViews.Count)) * looked;
        return Weighing.Of(chance) == Confidence.Likely     // so many nodes were looked at: one of them would look so by chance
            ? (Confidence.Likely, $"of {heard.Samples} PDUs heard from itself none was heard twice; chance of that with two transmissions: {Wording.Percent(chance)}") : null;
    }

    /// <summary>Chance that a node which transmits twice is heard with one transmission only, each time it is heard at all.</summary>
    internal static double ChanceTwoLookLikeOne(int heard, long sent)
    {
        double pdus = ShareInterval.Of(Math.Min(heard, sent), Math.Max(sent, 1)).Low;
        double one = 1 - Math.Sqrt(1 - pdus);       // share of single transmissions, if two give this share of PDUs
        return Math.Pow(2 * (1 - one) / (2 - one), heard);
    }
}
