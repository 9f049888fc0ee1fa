using System.Globalization;

namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>The mesh device properties: rows of device-properties.tsv, read when first asked.</summary>
public static class DeviceProperties
{
    private static readonly Lazy<DevicePropertyDefinition[]> Rows = new(ReadTable);
    private static readonly Lazy<Dictionary<ushort, DevicePropertyDefinition>> ByNumber = new(() => Rows.Value.ToDictionary(row => row.Number));

    public static IReadOnlyList<DevicePropertyDefinition> All => Rows.Value;

    public static DevicePropertyDefinition? Find(ushort propertyId) => ByNumber.Value.GetValueOrDefault(propertyId);

    private static DevicePropertyDefinition[] ReadTable()
    {
        List<string[]> rows = Table.Read("device-properties", columns: 7);
        var properties = new DevicePropertyDefinition[rows.Count];
        for (int i = 0; i < properties.Length; i++)
        {
            string[] cells = rows[i];
            properties[i] = new DevicePropertyDefinition(
                (ushort)Layouts.Numerals.ParseUnsigned(cells[0]), cells[1], cells[2], int.Parse(cells[3], CultureInfo.InvariantCulture), cells[4]);
        }
        return properties;
    }
}
