namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>The status codes of all groups: rows of status-codes.tsv, read when first asked.</summary>
public static class StatusCodes
{
    private static readonly Lazy<StatusCode[]> Rows = new(ReadTable);

    public static IReadOnlyList<StatusCode> All => Rows.Value;

    /// <summary>The name of a code in a set of codes (<see cref="StatusCode.Group"/>), or null.</summary>
    public static string? NameOf(string group, long code)
    {
        foreach (StatusCode row in Rows.Value)
        {
            if (row.Code == code && row.Group == group)
                return row.Name;
        }
        return null;
    }

    private static StatusCode[] ReadTable()
    {
        List<string[]> rows = Table.Read("status-codes", columns: 4);
        var codes = new StatusCode[rows.Count];
        for (int i = 0; i < codes.Length; i++)
            codes[i] = new StatusCode(rows[i][0], (byte)Layouts.Numerals.ParseUnsigned(rows[i][1]), rows[i][2], rows[i][3]);
        return codes;
    }
}
