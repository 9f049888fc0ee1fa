using System.Globalization;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>Draws how a flood spread, and who relays for whom, as text.</summary>
internal static class HopWords
{
    /// <summary>Above so many copies, as only a hostile capture has of one PDU, the tree would take too long to make.</summary>
    private const int MostCopies = 5000;

    private const int MostLines = 400;

    /// <summary>The tree of a flood's transmitters, and where it ended.</summary>
    public static IReadOnlyList<TextLine> Spread(Account account, int row, int columns)
    {
        CaptureHistory history = account.History;
        var lines = new Lines(columns);
        int copies = history.CopiesOf(row).Length;
        if (copies > MostCopies)
        {
            lines.Say($"{Phrases.Count(copies, "copy", "copies")} of one PDU: far more than a network makes; its hops are not drawn.");
            return lines.All;
        }
        IReadOnlyList<HopNode> tree = HopTree.Of(history, row);
        var grid = new Grid(new("hop", 3, 3, true), new("TTL", 3, 3, true), new("sent by", 20, 60), new("first heard", 12, 14), new("relay delay", 11, 11, true),
            new("copies", 6, 6, true), new("signal", 7, 8, true));
        lines.Add(grid.Heading(columns));
        var drawn = new bool[tree.Count];
        for (int at = 0; at < tree.Count; at++)
            if (tree[at].Parent is null)
                Draw(lines, grid, account, tree, at, "", "", drawn);
        SayEnd(lines, account, row, tree);
        return lines.All;
    }

    private static void Draw(Lines lines, Grid grid, Account account, IReadOnlyList<HopNode> tree, int at, string branch, string trunk, bool[] drawn)
    {
        if (drawn[at] || lines.All.Count > MostLines)
            return;
        drawn[at] = true;
        HopNode node = tree[at];
        string delay = node.DelayNs is { } ns ? Moment.After(0, ns) + (node.ParentIsGuess ? "?" : " ") : "";
        lines.Add(grid.Row(lines.Columns, new Cell(node.Hop is { } hop ? Phrases.Number(hop) : "?"), new Cell(Phrases.Number(node.Ttl)), new Cell(branch + Sender(account, node)),
            new Cell(Moment.Milli(node.FirstTimeNs)), new Cell(delay), new Cell(Phrases.Number(node.Frames.Count)), new Cell(Signal(account.History, node))));
        List<int> children = [.. Enumerable.Range(0, tree.Count).Where(child => tree[child].Parent == at)];
        for (int i = 0; i < children.Count; i++)
        {
            bool last = i == children.Count - 1;
            Draw(lines, grid, account, tree, children[i], trunk + (last ? "└─ " : "├─ "), trunk + (last ? "   " : "│  "), drawn);
        }
    }

    private static string Sender(Account account, HopNode node) => node.Sender switch
    {
        { } sender when node.Confidence == SenderConfidence.Likely => account.Names.Short(sender),
        { } sender => account.Names.Short(sender) + " (perhaps)",
        _ => "not known who, " + JsonForms.DeviceAddressText(node.Advertiser),
    };

    private static string Signal(CaptureHistory history, HopNode node)
    {
        List<int> values = [.. node.Frames.Select(frame => history.Frames[frame].Rssi).OfType<int>().Order()];
        return values.Count == 0 ? "" : string.Create(CultureInfo.InvariantCulture, $"{values[values.Count / 2]} dBm");
    }

    private static void SayEnd(Lines lines, Account account, int row, IReadOnlyList<HopNode> tree)
    {
        ref FloodRow flood = ref account.History.Floods[row];
        int hops = flood.HighestTtl - flood.LowestTtl;
        if (!account.History.OriginatorHeard(row))
            lines.Say("The original itself was not heard; hops are counted only where its TTL is known.", "  ?  ", Tone.Quiet);
        if (flood.LowestTtl <= 1)
            lines.Say($"Its TTL was used up after {Phrases.Count(hops, "hop")}: relays send on only what has TTL 2 or more, and the lowest heard is {flood.LowestTtl}.", "END  ", markTone: Tone.Bad);
        else if (hops == 0)
            lines.Say($"No relayed copy was heard: no relay took it up, or none was in this receiver's range. TTL {flood.LowestTtl} would have allowed {Phrases.Count(flood.LowestTtl - 1, "hop")}.", "END  ", markTone: Tone.Mixed);
        else
            lines.Say($"Heard over {Phrases.Count(hops, "hop")}; its TTL was not used up (lowest heard: {flood.LowestTtl}).", "  -  ");
        if (tree.Any(node => node.ParentIsGuess))
            lines.Say("A delay with '?' counts from the first of several copies that may have been the one relayed.", "  -  ", Tone.Quiet);
    }

    /// <summary>For each server that should act on a press and was silent: where on its way the request ended, as far as can be told.</summary>
    public static void SaySilent(Lines lines, Account account, int pressRow)
    {
        Press press = account.History.Presses[pressRow];
        foreach (MeshAddress element in PressSection.SilentOf(press))
            lines.Say($"{DisplayWidth.Isolate(account.Names.Full(element))}: {EyeWords.Of(account.History, pressRow, element)}", "silent  ", markTone: Tone.Mixed);
        if (press.Expected is { Count: 0 })
            lines.Say("Nobody listens to this address, so nobody could act.", "silent  ", markTone: Tone.Bad);
        foreach (int finding in press.Findings)
            PressWords.Say(lines, account.History.Findings[finding]);
    }

    /// <summary>Who relays whom over the whole capture, drawn from those that nobody is seen to feed.</summary>
    public static IReadOnlyList<TextLine> Graph(Account account, IReadOnlyList<RelayLink> links, int columns)
    {
        var lines = new Lines(columns);
        Dictionary<MeshAddress, List<RelayLink>> from = links.GroupBy(link => link.From).ToDictionary(group => group.Key, group => group.ToList());
        HashSet<MeshAddress> fed = [.. links.Select(link => link.Relay)];
        var drawn = new HashSet<MeshAddress>();
        foreach (MeshAddress root in from.Keys.Where(node => !fed.Contains(node)).Order().Concat(from.Keys.Order()))
        {
            if (!drawn.Add(root))
                continue;
            lines.Add(new Cell(account.Names.Full(root), Tone.Strong));
            Branch(lines, account, from, root, "", drawn);
        }
        return lines.All;
    }

    private static void Branch(Lines lines, Account account, Dictionary<MeshAddress, List<RelayLink>> from, MeshAddress node, string trunk, HashSet<MeshAddress> drawn)
    {
        if (!from.TryGetValue(node, out List<RelayLink>? links))
            return;
        for (int i = 0; i < links.Count && lines.All.Count < MostLines; i++)
        {
            bool last = i == links.Count - 1, again = !drawn.Add(links[i].Relay);
            string more = again && from.ContainsKey(links[i].Relay) ? "  (drawn elsewhere)" : "";
            lines.Add(new Cell($"{trunk}{(last ? "└" : "├")}─ {Phrases.Number(links[i].Floods)} ─> ", Tone.Quiet), new Cell(account.Names.Short(links[i].Relay)), new Cell(more, Tone.Quiet));
            if (!again && DisplayWidth.Of(trunk) < lines.Columns / 2)
                Branch(lines, account, from, links[i].Relay, trunk + (last ? "   " : "│  "), drawn);
        }
    }

    /// <summary>How far floods went, in a sentence.</summary>
    public static string Distances(HopStatistics hops)
    {
        var parts = new List<string>();
        for (int at = 0; at < hops.FloodsByHops.Count; at++)
        {
            string delay = hops.DelaysOfHop(at)?.MedianMs is { } ms ? $" ({Phrases.Duration(ms)})" : "";
            if (hops.FloodsByHops[at] > 0)
                parts.Add($"{Phrases.Number(hops.FloodsByHops[at])} {(at == 0 ? "direct" : $"over {Phrases.Count(at, "hop")}")}{delay}");
        }
        return parts.Count == 0 ? "No hop could be counted." : $"Most hops heard of each flood: {Phrases.List(parts)}; in brackets the median delay of that hop.";
    }

    public static string Delay(HopStatistics hops, MeshAddress relay) => hops.RelayOf(relay)?.Delays.Spread is { } spread
        ? string.Create(CultureInfo.InvariantCulture, $"{spread.MedianMs:0.0} ms ({spread.LowMs:0}-{spread.HighMs:0})") : "";
}
