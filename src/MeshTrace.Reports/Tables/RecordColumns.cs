using System.Text.Json;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Tables;

/// <summary>
/// The columns of each kind of record. They are the members that docs/records.schema.json names, in its order: the contract is the one place where
/// a member stands, and both CSV and Parquet follow it.
/// </summary>
public static class RecordColumns
{
    /// <summary>The member that names the kind: the table's own name says it already.</summary>
    internal const string KindMember = "record";

    private const string Resource = "MeshTrace.Reports.records.schema.json", Reference = "#/$defs/";
    private static readonly Lazy<IReadOnlyList<Column>[]> Tables = new(Read);

    /// <summary>The columns of a kind, the record's own index first.</summary>
    public static IReadOnlyList<Column> Of(RecordKind kind) => Tables.Value[(int)kind];

    private static IReadOnlyList<Column>[] Read()
    {
        using Stream stream = typeof(RecordColumns).Assembly.GetManifestResourceStream(Resource)
            ?? throw new InvalidOperationException($"{Resource} is not in the assembly");
        using JsonDocument document = JsonDocument.Parse(stream);
        JsonElement definitions = Member(document.RootElement, "$defs");
        var tables = new IReadOnlyList<Column>[RecordKinds.All.Count];
        foreach (RecordKind kind in RecordKinds.All)
        {
            tables[(int)kind] = [.. Member(Member(definitions, RecordKinds.NameOf(kind) + "Record"), "properties").EnumerateObject()
                .Where(member => member.Name != KindMember).Select(member => new Column(member.Name, TypeOf(member.Value, definitions)))];
        }
        return tables;
    }

    private static ColumnType TypeOf(JsonElement schema, JsonElement definitions)
    {
        var types = new HashSet<ColumnType>();
        Collect(schema, definitions, types);
        return types.Count == 1 ? types.Single() : throw new InvalidOperationException($"{Resource}: no single type in {schema.GetRawText()}");
    }

    /// <summary>All types but null that a schema allows.</summary>
    private static void Collect(JsonElement schema, JsonElement definitions, HashSet<ColumnType> types)
    {
        if (schema.TryGetProperty("$ref", out JsonElement reference))
        {
            string name = reference.GetString()![Reference.Length..];
            if (name == "time")
                types.Add(ColumnType.Time);
            else
                Collect(Member(definitions, name), definitions, types);
        }
        else if (schema.TryGetProperty("anyOf", out JsonElement any))
        {
            foreach (JsonElement one in any.EnumerateArray())
                Collect(one, definitions, types);
        }
        else if (schema.TryGetProperty("enum", out JsonElement values))
        {
            foreach (JsonElement value in values.EnumerateArray())
            {
                if (value.ValueKind != JsonValueKind.Null)
                    types.Add(value.ValueKind == JsonValueKind.Number ? ColumnType.Integer : ColumnType.Text);
            }
        }
        else if (Member(schema, "type").GetString() is var type and not "null")
        {
            types.Add(type switch
            {
                "integer" => ColumnType.Integer,
                "number" => ColumnType.Real,
                "boolean" => ColumnType.Flag,
                "string" => ColumnType.Text,
                _ => ColumnType.Json,
            });
        }
    }

    private static JsonElement Member(JsonElement element, string name) =>
        element.TryGetProperty(name, out JsonElement member) ? member : throw new InvalidOperationException($"{Resource}: no {name} in {element.GetRawText()}");
}
