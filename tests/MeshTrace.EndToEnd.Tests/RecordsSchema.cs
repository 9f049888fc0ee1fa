using System.Text.Json;
using Json.Schema;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>The contract of the records as it stands in docs/.</summary>
internal static class RecordsSchema
{
    private static readonly JsonElement Document = JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(Repository.Document("records.schema.json")));
    private static readonly Dictionary<string, JsonSchema> Kinds = LoadKinds();

    /// <summary>Every record must satisfy its kind's schema, and these kinds must be among them.</summary>
    public static void Check(IReadOnlyList<JsonElement> records, params string[] kinds)
    {
        Assert.Equal("contract", records[0].GetProperty("record").GetString());
        foreach (JsonElement record in records)
        {
            EvaluationResults result = Kinds[record.GetProperty("record").GetString()!].Evaluate(record, new EvaluationOptions { OutputFormat = OutputFormat.List });
            if (!result.IsValid)
                Assert.Fail($"{Says(result)}: {record.GetRawText()}");
        }
        Assert.Superset(kinds.ToHashSet(), records.Select(record => record.GetProperty("record").GetString()!).ToHashSet());
    }

    /// <summary>One schema a kind: the whole one tries all kinds for each line and says little about which member is wrong.</summary>
    private static Dictionary<string, JsonSchema> LoadKinds()
    {
        var kinds = new Dictionary<string, JsonSchema>();
        string definitions = Document.GetProperty("$defs").GetRawText();
        foreach (JsonProperty definition in Document.GetProperty("$defs").EnumerateObject().Where(definition => definition.Name.EndsWith("Record", StringComparison.Ordinal)))
            kinds[definition.Name[..^"Record".Length]] = JsonSchema.FromText($"{{\"$ref\":\"#/$defs/{definition.Name}\",\"$defs\":{definitions}}}");
        return kinds;
    }

    private static string Says(EvaluationResults result) =>
        string.Join("; ", (result.Details ?? []).Where(detail => detail.Errors is not null).SelectMany(detail => detail.Errors!.Select(error => $"{detail.InstanceLocation}: {error.Value}")));
}
