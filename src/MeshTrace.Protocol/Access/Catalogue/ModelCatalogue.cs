namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>The SIG models: rows of models.tsv, read when first asked.</summary>
public static class ModelCatalogue
{
    private static readonly Lazy<ModelDefinition[]> Rows = new(ReadTable);
    private static readonly Lazy<Dictionary<ushort, ModelDefinition>> ByNumber = new(() => Rows.Value.ToDictionary(row => row.Number));

    public static IReadOnlyList<ModelDefinition> All => Rows.Value;

    public static ModelDefinition? Find(ushort modelId) => ByNumber.Value.GetValueOrDefault(modelId);

    private static ModelDefinition[] ReadTable()
    {
        List<string[]> rows = Table.Read("models", columns: 4);
        var models = new ModelDefinition[rows.Count];
        for (int i = 0; i < models.Length; i++)
        {
            string[] cells = rows[i];
            bool isClient = cells[1].EndsWith("Client", StringComparison.Ordinal);
            models[i] = new ModelDefinition((ushort)Layouts.Numerals.ParseUnsigned(cells[0]), cells[1], cells[2], isClient, cells[3]);
        }
        return models;
    }
}
