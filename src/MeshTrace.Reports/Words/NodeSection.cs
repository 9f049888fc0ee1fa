using System.Globalization;
using MeshTrace.Analysis.Nodes;

namespace MeshTrace.Reports.Words;

/// <summary>The nodes that were heard, and those that were not.</summary>
internal static class NodeSection
{
    private const int MostNodes = 60;
    private const int MostDevices = 8;

    public static void Write(Paper paper, Account account)
    {
        IReadOnlyList<NodeRecord> nodes = account.History.Nodes;
        List<NodeRecord> heard = nodes.Where(Heard).ToList();
        if (heard.Count > 0)
            WriteTable(paper, account, heard);
        List<string> unheard = nodes.Where(node => !Heard(node)).Select(node => account.Names.Full(node.Unicast)).ToList();
        if (unheard.Count > 0 && heard.Count > 0)
            paper.Paragraph($"Described but not heard: {Phrases.List(unheard, MostNodes)}.", tone: Tone.Quiet);
    }

    private static bool Heard(NodeRecord node) => node.FloodsSent > 0 || node.FloodsRelayed > 0;

    private static void WriteTable(Paper paper, Account account, List<NodeRecord> heard)
    {
        const int Number = 7, Address = 7;
        paper.Heading($"Nodes heard: {Phrases.Number(heard.Count)}");
        int name = Math.Clamp(heard.Max(node => DisplayWidth.Of(NameOf(node, account))), 4, Math.Max(8, paper.Columns - 2 - 2 - Address - (5 * (Number + 1))));
        string Right(string text) => " " + DisplayWidth.Fit(text, Number, alignRight: true);
        paper.Line(new Cell($"  {DisplayWidth.Fit("name", name)}  address{Right("sent")}{Right("relayed")}{Right("copies")}{Right("heard")}{Right("signal")}", Tone.Quiet));
        foreach (NodeRecord node in heard.Take(MostNodes))
        {
            paper.Line(new Cell($"  {DisplayWidth.Fit(NameOf(node, account), name)}  {node.Unicast} "
                + Right(Phrases.Number(node.FloodsSent)) + Right(Phrases.Number(node.FloodsRelayed))
                + Right(node.CopiesPerPdu?.ToString("0.0", CultureInfo.InvariantCulture) ?? "-")
                + Right(Share(account.ShareHeard(node)))
                + Right(node.RssiMedian?.ToString(CultureInfo.InvariantCulture) ?? "-")));
        }
        if (heard.Count > MostNodes)
            paper.Paragraph($"{Phrases.Number(heard.Count - MostNodes)} more: 'meshtrace records --only node' lists all.", tone: Tone.Quiet);
        paper.Paragraph("sent, relayed: Network PDUs; copies: heard of each; heard: the share of its PDUs that this receiver caught, estimated; signal: median in dBm.", tone: Tone.Quiet);
        List<string> relayed = heard.Where(node => node is { HeardShare: 0, FloodsSent: > 0 }).Select(node => account.Names.Short(node.Unicast)).ToList();
        if (relayed.Count > 0)
            paper.Paragraph($"Heard only through relays: {Phrases.List(relayed, MostDevices)}.", tone: Tone.Quiet);
        List<string> heartbeats = [.. HeartbeatCensus.Of(account.History).Select(node => $"{account.Names.Short(node.Node)} ({Phrases.Number(node.Heard)}, {HeartbeatWords.Of(node.Hops)})")];
        if (heartbeats.Count > 0)
            paper.Paragraph($"Heartbeats: {Phrases.List(heartbeats, MostDevices)}. The most hops tell which TTL reaches at least as far as this receiver.", tone: Tone.Quiet);
    }

    /// <summary>A share short enough for a column: "92%", "&lt;0.1%".</summary>
    private static string Share(double? share) => share is not { } known ? "-"
        : Phrases.Percent(known).Replace(" ", "", StringComparison.Ordinal).Replace("under", "<", StringComparison.Ordinal).Replace("over", ">", StringComparison.Ordinal);

    private static string NameOf(NodeRecord node, Account account) => account.Names.Short(node.Unicast) is var name && name == node.Unicast.ToString() ? "-" : name;
}
