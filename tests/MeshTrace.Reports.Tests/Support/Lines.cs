using System.Text;
using System.Text.Json;
using Json.Schema;
using MeshTrace.Analysis.History;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Tests.Support;

/// <summary>Writes records and reads the lines back, each checked against the contract in docs/.</summary>
internal static class Lines
{
    private static readonly JsonSchema Schema = JsonSchema.FromText(File.ReadAllText(Path.Combine(AppContext.BaseDirectory, "records.schema.json")));

    public static string[] Of(CaptureHistory history, RecordsSettings? settings = null)
    {
        using var stream = new MemoryStream();
        new RecordsWriter(history, settings ?? new RecordsSettings()).Write(stream);
        string text = Encoding.UTF8.GetString(stream.ToArray());
        Assert.EndsWith("}\n", text, StringComparison.Ordinal);
        string[] lines = text[..^1].Split('\n');
        foreach (string line in lines)
        {
            EvaluationResults result = Schema.Evaluate(JsonSerializer.Deserialize<JsonElement>(line), new EvaluationOptions { OutputFormat = OutputFormat.Flag });
            Assert.True(result.IsValid, "does not satisfy docs/records.schema.json: " + line);
        }
        return lines;
    }

    /// <summary>The lines of one kind.</summary>
    public static string[] Of(CaptureHistory history, RecordKind kind, bool reveal = false) =>
        Of(history, new RecordsSettings { Only = [kind], RevealKeys = reveal })[1..];
}
