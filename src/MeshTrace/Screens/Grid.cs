using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>A column of a table: its heading, how wide it is at least and at most, and which side its words keep to.</summary>
/// <param name="Title">Heading.</param>
/// <param name="Least">Columns it never gets less than.</param>
/// <param name="Most">Columns more than which it does not need.</param>
/// <param name="Right">Words stand at its right side, as numbers do.</param>
internal readonly record struct GridColumn(string Title, int Least, int Most, bool Right = false)
{
    /// <summary>Words that are too long lose their middle, not their end: names that begin alike stay different.</summary>
    public bool Middle { get; init; }
}

/// <summary>Shares the width of a table among its columns: each gets its least, then what is left goes to them in turn until they have their most.</summary>
internal sealed class Grid(params GridColumn[] columns)
{
    private const int Gap = 2;

    private int _sharedFor = -1;
    private int[] _widths = [];

    public TextLine Heading(int width)
    {
        Share(width);
        var cells = new List<Cell>();
        for (int i = 0; i < columns.Length; i++)
            Add(cells, i, new Cell(columns[i].Title, Tone.Quiet));
        return new TextLine(cells);
    }

    /// <summary>A row: one cell a column.</summary>
    public TextLine Row(int width, params ReadOnlySpan<Cell> row)
    {
        Share(width);
        var cells = new List<Cell>(columns.Length * 2);
        for (int i = 0; i < columns.Length; i++)
            Add(cells, i, i < row.Length ? row[i] : new Cell(""));
        return new TextLine(cells);
    }

    private void Add(List<Cell> cells, int column, Cell cell)
    {
        if (_widths[column] <= 0)
            return;
        if (cells.Count > 0)
            cells.Add(new Cell(new string(' ', Gap)));
        string text = columns[column].Middle ? DisplayWidth.CutMiddle(cell.Text, _widths[column]) : cell.Text;
        cells.Add(cell with { Text = DisplayWidth.Fit(text, _widths[column], columns[column].Right) });
    }

    private void Share(int width)
    {
        if (_sharedFor == width)
            return;
        _sharedFor = width;
        _widths = [.. columns.Select(column => column.Least)];
        int left = width - _widths.Sum() - (Gap * (columns.Length - 1));
        for (bool given = true; left > 0 && given;)
        {
            given = false;
            for (int i = 0; i < columns.Length && left > 0; i++)
            {
                if (_widths[i] >= columns[i].Most)
                    continue;
                _widths[i]++;
                left--;
                given = true;
            }
        }
    }
}
