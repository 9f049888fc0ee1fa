using System.Globalization;
using MeshTrace.Analysis.Floods;
using MeshTrace.Protocol;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page.Charts;

/// <summary>Who relays whom, drawn from left to right; the thicker a line, the more PDUs.</summary>
internal static class HopGraph
{
    private const int MostLinks = 60, MostNodes = 30, RowHeight = 36, BoxHeight = 24, LabelColumns = 18;
    private const double BoxWidth = 150, Margin = 6, Thickest = 5, Bend = 44;

    public static void Write(PageDraft draft, IReadOnlyList<RelayLink> links)
    {
        List<RelayLink> drawn = Chosen(links);
        var layout = new HopLayout(drawn);
        double height = (Math.Max(layout.Rows, 2) * RowHeight) + (2 * Margin);
        Markup markup = draft.Markup;
        using (var drawing = new Drawing(markup, "hop-chart", "Who relays whom", $"{Phrases.Count(layout.Nodes.Count, "node")} and {Phrases.Count(drawn.Count, "line")}: each line goes from a node to one that relayed it. The table below holds the same in words.", height, "all"))
        {
            markup.Open("defs").Open("marker", ("id", "hop-arrow"), ("viewBox", "0 0 8 8"), ("refX", "7"), ("refY", "4"), ("markerWidth", "8"), ("markerHeight", "8"), ("markerUnits", "userSpaceOnUse"), ("orient", "auto"))
                .Empty("path", ("d", "M0 0L8 4L0 8z"), ("class", "arrow")).Close().Close();
            int most = drawn.Max(link => link.Floods);
            foreach (RelayLink link in drawn)
                WriteLink(draft, layout, link, most, height);
            foreach (MeshAddress node in layout.Nodes)
            {
                (double x, double y) = Place(layout, node, height);
                drawing.Box(x, y - (BoxHeight / 2.0), BoxWidth, BoxHeight, drawn.Exists(link => link.Relay == node) ? "box relay-box" : "box");
                drawing.Label(x + (BoxWidth / 2), y + 4, DisplayWidth.Isolate(DisplayWidth.CutMiddle(draft.Account.Names.Short(node), LabelColumns)), anchor: "middle");
            }
        }
        draft.LeftOut(links.Count - drawn.Count, "links", "the most frequent ones are drawn, the table has more");
        draft.SaysQuietly("Thick frames are relays. A broken line goes back to a node further left or stays in its column.");
    }

    /// <summary>The most frequent links, as long as they do not name too many nodes.</summary>
    private static List<RelayLink> Chosen(IReadOnlyList<RelayLink> links)
    {
        var chosen = new List<RelayLink>();
        var nodes = new HashSet<MeshAddress>();
        foreach (RelayLink link in links)
        {
            int more = (nodes.Contains(link.From) ? 0 : 1) + (nodes.Contains(link.Relay) ? 0 : 1);
            if (chosen.Count >= MostLinks || nodes.Count + more > MostNodes)
                continue;
            nodes.Add(link.From);
            nodes.Add(link.Relay);
            chosen.Add(link);
        }
        return chosen;
    }

    /// <summary>Left edge and middle of a node's box.</summary>
    private static (double X, double Y) Place(HopLayout layout, MeshAddress node, double height)
    {
        int column = layout.ColumnOf(node);
        double step = layout.Columns == 1 ? 0 : (Drawing.Width - BoxWidth - (2 * Margin) - Bend) / (layout.Columns - 1);
        double rowHeight = (height - (2 * Margin)) / layout.RowsOf(column);
        return (Margin + (column * step), Margin + ((layout.RowOf(node) + 0.5) * rowHeight));
    }

    private static void WriteLink(PageDraft draft, HopLayout layout, RelayLink link, int most, double height)
    {
        (double fromX, double fromY) = Place(layout, link.From, height);
        (double toX, double toY) = Place(layout, link.Relay, height);
        int step = layout.ColumnOf(link.Relay) - layout.ColumnOf(link.From);
        string d = step switch
        {
            > 0 => Curve(fromX + BoxWidth, fromY, toX, toY, (toX - fromX - BoxWidth) / 2),
            0 => string.Create(CultureInfo.InvariantCulture, $"M{fromX + BoxWidth:0.#} {fromY:0.#}C{fromX + BoxWidth + Bend:0.#} {fromY:0.#} {toX + BoxWidth + Bend:0.#} {toY:0.#} {toX + BoxWidth:0.#} {toY:0.#}"),
            _ => Curve(fromX, fromY + 6, toX + BoxWidth, toY + 6, -(fromX - toX - BoxWidth) / 2),
        };
        draft.Markup.Open("path", ("d", d), ("class", step > 0 ? "link told" : "link back told"), ("stroke-width", Markup.Number(1 + ((Thickest - 1) * link.Floods / most))), ("marker-end", "url(#hop-arrow)"))
            .Element("title", $"{draft.Account.Names.Short(link.Relay)} relayed {Phrases.Count(link.Floods, "PDU")} of {draft.Account.Names.Short(link.From)}").Close();
    }

    private static string Curve(double fromX, double fromY, double toX, double toY, double bend) =>
        string.Create(CultureInfo.InvariantCulture, $"M{fromX:0.#} {fromY:0.#}C{fromX + bend:0.#} {fromY:0.#} {toX - bend:0.#} {toY:0.#} {toX:0.#} {toY:0.#}");
}
