using MeshTrace.Analysis.Floods;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Page.Charts;

/// <summary>
/// Where the nodes of the hop graph stand: those that nobody is seen to feed on the left, each relay one column right of the first that feeds it; within a
/// column near those that feed it. (A general layout engine would bring a native library or reflection, for graphs of two dozen nodes.)
/// </summary>
internal sealed class HopLayout
{
    private const int MostColumns = 5;

    private readonly Dictionary<MeshAddress, (int Column, int Row)> _places = [];

    public HopLayout(IReadOnlyList<RelayLink> links)
    {
        HashSet<MeshAddress> fed = [.. links.Select(link => link.Relay)];
        List<MeshAddress> all = [.. links.SelectMany(link => (MeshAddress[])[link.From, link.Relay]).Distinct().Order()];
        var columns = new Dictionary<MeshAddress, int>();
        Queue<MeshAddress> next = new(all.Where(node => !fed.Contains(node)));
        if (next.Count == 0)
            next.Enqueue(links[0].From);        // a ring: begin where most comes from
        foreach (MeshAddress root in next)
            columns[root] = 0;
        while (columns.Count < all.Count)
        {
            if (!next.TryDequeue(out MeshAddress from))
            {
                from = all.First(node => !columns.ContainsKey(node));   // a ring that nothing outside feeds
                columns[from] = 0;
            }
            foreach (RelayLink link in links)
                if (link.From == from && columns.TryAdd(link.Relay, Math.Min(columns[from] + 1, MostColumns - 1)))
                    next.Enqueue(link.Relay);
        }
        Columns = columns.Values.Max() + 1;
        for (int column = 0; column < Columns; column++)
            PlaceColumn([.. all.Where(node => columns[node] == column)], column, links);
        Nodes = all;
    }

    public IReadOnlyList<MeshAddress> Nodes { get; }
    public int Columns { get; }

    /// <summary>Rows of the fullest column.</summary>
    public int Rows { get; private set; }

    public int ColumnOf(MeshAddress node) => _places[node].Column;

    public int RowOf(MeshAddress node) => _places[node].Row;

    public int RowsOf(int column) => _places.Values.Count(place => place.Column == column);

    private void PlaceColumn(List<MeshAddress> nodes, int column, IReadOnlyList<RelayLink> links)
    {
        List<MeshAddress> ordered = [.. nodes.OrderBy(node => Weight(node, links)).ThenBy(node => node)];
        for (int row = 0; row < ordered.Count; row++)
            _places[ordered[row]] = (column, row);
        Rows = Math.Max(Rows, ordered.Count);
    }

    /// <summary>Mean row of those that feed a node and have a place.</summary>
    private double Weight(MeshAddress node, IReadOnlyList<RelayLink> links)
    {
        List<int> rows = [.. links.Where(link => link.Relay == node && _places.ContainsKey(link.From)).Select(link => _places[link.From].Row)];
        return rows.Count == 0 ? 0 : rows.Average();
    }
}
