namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>The health faults (Mesh Protocol 1.1 §4.2.16.1): rows of health-faults.tsv, read when first asked.</summary>
public static class HealthFaults
{
    private static readonly Lazy<HealthFault[]> Rows = new(ReadTable);

    public static IReadOnlyList<HealthFault> All => Rows.Value;

    /// <summary>The name of a fault, <c>Vendor Specific</c> from 0x80 on, or null for a reserved value.</summary>
    public static string? NameOf(byte fault)
    {
        foreach (HealthFault row in Rows.Value)
        {
            if (fault >= row.First && fault <= row.Last)
                return row.Name;
        }
        return null;
    }

    private static HealthFault[] ReadTable()
    {
        List<string[]> rows = Table.Read("health-faults", columns: 3);
        var faults = new HealthFault[rows.Count];
        for (int i = 0; i < faults.Length; i++)
        {
            string[] range = rows[i][0].Split('-');
            faults[i] = new HealthFault((byte)Layouts.Numerals.ParseUnsigned(range[0]), (byte)Layouts.Numerals.ParseUnsigned(range[^1]), rows[i][1]);
        }
        return faults;
    }
}
