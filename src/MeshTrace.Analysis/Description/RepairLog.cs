namespace MeshTrace.Analysis.Description;

/// <summary>Deviations met while reading, one row a kind: the first place in full, the others counted.</summary>
internal sealed class RepairLog
{
    private readonly Dictionary<(string Member, string Says), int> _rowOf = [];
    private readonly List<(string Path, string Says, int Times)> _rows = [];

    /// <param name="path">Makes the place; called for the first of a kind only.</param>
    /// <param name="member">Member name; with <paramref name="says"/> it tells the kind.</param>
    /// <param name="says">What deviated and how it was read.</param>
    /// <param name="detail">What differs from one place to the next, told for the first.</param>
    public void Add(Func<string> path, string member, string says, string? detail = null)
    {
        if (_rowOf.TryGetValue((member, says), out int row))
        {
            _rows[row] = _rows[row] with { Times = _rows[row].Times + 1 };
            return;
        }
        _rowOf.Add((member, says), _rows.Count);
        _rows.Add((path(), detail is null ? says : $"{says} ({detail})", 1));
    }

    public IReadOnlyList<string> ToLines() => [.. _rows.Select(row => row.Times == 1
        ? $"{row.Path}: {row.Says}"
        : FormattableString.Invariant($"{row.Path}: {row.Says}; {row.Times - 1} more like it"))];
}
