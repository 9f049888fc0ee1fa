using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Words;

/// <summary>Who repeats how often, as set and as heard, who relays whom, and how long a hop takes.</summary>
internal static class RelaySection
{
    private const int MostNodes = 40, MostLinks = 8, MostHops = 8;
    private const int Count = 9, Delay = 15;

    /// <summary>Delays of so few hops tell no spread (ours).</summary>
    private const int EnoughDelays = 8;

    public static void Write(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        List<MeshAddress> nodes = [.. history.Nodes.Where(node => node.FloodsSent + node.FloodsRelayed > 0).Select(node => node.Unicast)];
        if (history.Repeats is not { } repeats || nodes.Count == 0 || !AnyHeardOnAir(history))
            return;
        paper.Heading("Repeats and relays");
        int name = Math.Clamp(nodes.Max(node => DisplayWidth.Of(account.Names.Short(node))), 4, Math.Max(10, paper.Columns - 2 - (4 * (Count + 2)) - Delay - 2));
        paper.Line(new Cell($"  {DisplayWidth.Fit("node", name)}  {"set",-Count}  {"heard",-Count}  {"relay",-Count}  {"heard",-Count}  relay delay", Tone.Quiet));
        foreach (MeshAddress node in nodes.Take(MostNodes))
            paper.Line(new Cell($"  {DisplayWidth.Fit(account.Names.Short(node), name)}  {RepeatWords.Set(repeats.Settings.NetworkTransmitAt(node, long.MaxValue)) ?? "?",-Count}  {RepeatWords.Heard(repeats.NetworkTransmitOf(node)) ?? "-",-Count}  "
                + $"{RepeatWords.Set(repeats.Settings.RelayAt(node, long.MaxValue).Retransmit) ?? "?",-Count}  {RepeatWords.Heard(repeats.RelayRetransmitOf(node)) ?? "-",-Count}  {Delays(history.Hops.RelayOf(node)?.Delays)}"));
        if (nodes.Count > MostNodes)
            paper.Paragraph($"{Phrases.Number(nodes.Count - MostNodes)} more: 'meshtrace browse' and 'meshtrace report' show all.", tone: Tone.Quiet);
        paper.Paragraph("3 x 20 ms: each PDU transmitted three times (two retransmissions, as the wire counts), 20 ms apart, to which 0-10 ms are added by chance. "
            + "What is heard may be fewer than sent, never more. relay delay: median, and in brackets the middle half, at this receiver.", tone: Tone.Quiet);
        WritePlans(paper, history);
        WriteLinks(paper, account);
        WriteHops(paper, history.Hops);
    }

    /// <summary>A phone's log holds none: what runs over its connection is neither repeated nor relayed there.</summary>
    private static bool AnyHeardOnAir(CaptureHistory history)
    {
        for (int row = 0; row < history.Floods.Count; row++)
            if (history.Floods[row].HeardOnAir)
                return true;
        return false;
    }

    private static string Delays(DurationHistogram? delays)
    {
        if (delays?.MedianMs is not { } median)
            return "";
        return delays.Count >= EnoughDelays && delays.QuantileMs(0.25) is { } low && delays.QuantileMs(0.75) is { } high
            ? $"{Phrases.Duration(median)} ({low:0}-{high:0})" : Phrases.Duration(median);
    }

    /// <summary>What a receiver's channels leave unsaid about repeats.</summary>
    private static void WritePlans(Paper paper, CaptureHistory history)
    {
        foreach (ChannelPlan plan in history.ReceiverViews.Select(view => view.Plan).Distinct())
        {
            string? says = plan switch
            {
                ChannelPlan.OneChannel => "A receiver of this capture listened to one channel: repeats whose packet on that channel was disturbed are not counted, and loss on the others is not seen.",
                ChannelPlan.Hopping => "A receiver of this capture hopped from channel to channel: of each transmission it could hear one packet of three at most.",
                ChannelPlan.Unknown => "A receiver of this capture tells no channels (a log of a host, or too few frames): its controller may have dropped repeated packets, so counts of repeats say little.",
                _ => null,
            };
            if (says is not null)
                paper.Paragraph(says, "  ! ", markTone: Tone.Mixed);
        }
    }

    private static void WriteLinks(Paper paper, Account account)
    {
        IReadOnlyList<RelayLink> links = account.History.Hops.Links;
        if (links.Count == 0)
            return;
        List<string> words = [.. links.GroupBy(link => link.Relay)
            .Select(relay => $"{account.Names.Short(relay.Key)} relays {Phrases.List([.. relay.Select(link => $"{account.Names.Short(link.From)} ({Phrases.Number(link.Floods)})")], MostLinks)}")];
        foreach (string one in words.Take(MostLinks))
            paper.Paragraph(one + ".");
        if (words.Count > MostLinks)
            paper.Paragraph($"{Phrases.Number(words.Count - MostLinks)} more relays.", tone: Tone.Quiet);
    }

    private static void WriteHops(Paper paper, HopStatistics hops)
    {
        List<string> counts = [];
        for (int hop = 0; hop < Math.Min(hops.FloodsByHops.Count, MostHops); hop++)
            if (hops.FloodsByHops[hop] > 0)
                counts.Add($"{(hop == 0 ? "none" : Phrases.Number(hop))} ({Phrases.Count(hops.FloodsByHops[hop], "PDU")})");
        if (counts.Count > 0)
            paper.Paragraph($"Hops that Network PDUs were heard to take: {Phrases.List(counts)}.");
    }
}
