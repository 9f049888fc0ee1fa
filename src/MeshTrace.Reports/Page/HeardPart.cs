using System.Globalization;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Reports.Page.Charts;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>How much of each node was heard: the shares with the intervals in which the true ones lie in 19 of 20 cases.</summary>
internal static class HeardPart
{
    private const int MostRows = 300, MostBars = 40;

    public static void Write(PageDraft draft)
    {
        List<NodeRecord> heard = [.. draft.History.Nodes.Where(node => node.FloodsSent + node.FloodsRelayed > 0)];
        List<string> unheard = [.. draft.History.Nodes.Where(node => node.FloodsSent + node.FloodsRelayed == 0).Select(node => draft.FullName(node.Unicast))];
        if (heard.Count == 0)
        {
            draft.Says("No node was heard whose messages could be opened.");
            return;
        }
        draft.Says("Of what a node sends, a receiver hears only a part. The share is estimated from the gaps in the node's sequence numbers; the interval holds the true share in 19 of 20 cases.");
        HeardShares? shares = draft.History.HeardShares;
        List<Bar> bars = [.. heard.Where(node => shares?.FloodIntervalOf(node.Unicast) is not null).Take(MostBars).Select(node => BarOf(draft, node, shares!.FloodIntervalOf(node.Unicast)!.Value))];
        if (bars.Count > 0)
            BarChart.Write(draft.Markup, "heard-chart", "Share of each node's PDUs that was heard", "A bar a node, with a line from the lower to the upper end of the interval. The table below holds the same numbers.", bars, 1);
        using (var grid = new Grid(draft.Markup, "Nodes heard", "Node", "Address", new Column("Sent", true), new Column("Relayed", true), new Column("Heard of its PDUs", true), new Column("Interval", true),
            new Column("Heard of its own packets", true), new Column("Copies a PDU", true), new Column("Signal, dBm", true)))
        {
            foreach (NodeRecord node in heard.Take(MostRows))
                grid.Row(draft.Name(node.Unicast), draft.Account.Names.Address(node.Unicast), Phrases.Number(node.FloodsSent), Phrases.Number(node.FloodsRelayed),
                    draft.Account.ShareHeard(node) is { } share ? Phrases.Percent(share) : "-", Interval(shares?.FloodIntervalOf(node.Unicast)), Own(shares?.EventIntervalOf(node.Unicast)),
                    node.CopiesPerPdu?.ToString("0.0", CultureInfo.InvariantCulture) ?? "-", node.RssiMedian?.ToString(CultureInfo.InvariantCulture) ?? "-");
        }
        draft.LeftOut(heard.Count - MostRows, "nodes", "'meshtrace records --only node' gives all");
        draft.SaysQuietly("Sent and relayed count Network PDUs. Heard of its own packets: advertising events that the node itself transmitted, relays left out. A dash: it cannot be known.");
        if (unheard.Count > 0)
            draft.Says($"Described but not heard: {Phrases.List(unheard, MostRows)}.");
    }

    private static Bar BarOf(PageDraft draft, NodeRecord node, ShareInterval interval) =>
        new(draft.Account.Names.Short(node.Unicast), interval.Share, $"{Phrases.Percent(interval.Share)} ({Interval(interval)})") { Low = interval.Low, High = interval.High };

    private static string Own(ShareInterval? interval) => interval is { } known ? $"{Phrases.Percent(known.Share)} ({Interval(known)})" : "-";

    private static string Interval(ShareInterval? interval) => interval is { } known ? $"{Phrases.Percent(known.Low)} to {Phrases.Percent(known.High)}" : "-";
}
