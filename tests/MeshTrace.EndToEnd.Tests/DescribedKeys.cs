using System.Text.Json;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>All keys that stand in a network description.</summary>
internal static class DescribedKeys
{
    public static IEnumerable<string> Of(string file) => Of(JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(file)));

    public static IEnumerable<string> Of(JsonElement element) => element.ValueKind switch
    {
        JsonValueKind.Object => element.EnumerateObject().SelectMany(member =>
            member.Name is "key" or "oldKey" or "deviceKey" && member.Value.ValueKind == JsonValueKind.String ? [member.Value.GetString()!] : Of(member.Value)),
        JsonValueKind.Array => element.EnumerateArray().SelectMany(Of),
        _ => [],
    };
}
