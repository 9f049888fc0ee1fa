using System.Globalization;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Reports.Page.Charts;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>Who relays whom, and how far floods go.</summary>
internal static class HopPart
{
    private const int MostRows = 200, MostHops = 16;

    public static void Write(PageDraft draft)
    {
        HopStatistics hops = draft.History.Hops;
        if (hops.Links.Count > 0)
        {
            draft.Says("Which node sends on what another one sent, as the order of their copies at the receiver tells. It is what could be told from here, not a map of the radio: a relay that was not heard is not in it.");
            HopGraph.Write(draft, hops.Links);
            using (var grid = new Grid(draft.Markup, "Who relays whom", "From", "Relayed by", new Column("PDUs", true), new Column("Median delay of this relay", true)))
            {
                foreach (RelayLink link in hops.Links.Take(MostRows))
                    grid.Row(draft.Name(link.From), draft.Name(link.Relay), Phrases.Number(link.Floods), Delay(hops.RelayOf(link.Relay)?.Delays.MedianMs));
            }
            draft.LeftOut(hops.Links.Count - MostRows, "links", "the most frequent ones are shown");
        }
        else
            draft.Says("No relay was heard that could be named.");
        WriteDistances(draft, hops);
        WriteHeartbeats(draft);
    }

    private static void WriteDistances(PageDraft draft, HopStatistics hops)
    {
        if (hops.FloodsByHops.Sum() == 0)
            return;
        using (var grid = new Grid(draft.Markup, "How far Network PDUs were heard to go", new Column("Hops", true), new Column("PDUs", true), new Column("Median delay of that hop", true)))
        {
            for (int hop = 0; hop < Math.Min(hops.FloodsByHops.Count, MostHops); hop++)
                grid.Row(hop.ToString(CultureInfo.InvariantCulture), Phrases.Number(hops.FloodsByHops[hop]), hop == 0 ? "-" : Delay(hops.DelaysOfHop(hop)?.MedianMs));
        }
        draft.LeftOut(hops.FloodsByHops.Skip(MostHops).Sum(), "PDUs that went further", "'meshtrace browse' shows each");
        draft.SaysQuietly("0 hops: only the copies of the node that sent it were heard.");
    }

    private static void WriteHeartbeats(PageDraft draft)
    {
        IReadOnlyList<NodeHeartbeats> heartbeats = HeartbeatCensus.Of(draft.History);
        if (heartbeats.Count == 0)
            return;
        using (var grid = new Grid(draft.Markup, "Heartbeats, and how many hops their copies had come", "Node", new Column("Heartbeats", true), new Column("Sent with TTL", true), new Column("Least hops", true), new Column("Most hops", true)))
        {
            foreach (NodeHeartbeats node in heartbeats.Take(MostRows))
                grid.Row(draft.Name(node.Node), Phrases.Number(node.Heard), Phrases.Number(node.Hops.InitTtl), Phrases.Number(node.Hops.LeastHops), Phrases.Number(node.Hops.MostHops));
        }
        draft.LeftOut(heartbeats.Count - MostRows, "nodes", "'meshtrace records --only message' gives each Heartbeat");
        draft.SaysQuietly("The most hops tell which TTL reaches at least as far as this receiver.");
    }

    private static string Delay(double? ms) => ms is { } known ? Phrases.Duration(known) : "-";
}
