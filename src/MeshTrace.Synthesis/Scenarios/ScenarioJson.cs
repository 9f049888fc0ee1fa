using System.Globalization;
using System.Text.Json;
using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>
/// One object of a scenario file with its JSON path. Every member that is asked for counts as known; <see cref="Finish"/> refuses the rest,
/// so that a mistyped member is an error and not silence.
/// </summary>
internal sealed class ScenarioJson
{
    private readonly JsonElement _object;
    private readonly HashSet<string> _asked = new(StringComparer.Ordinal);

    internal ScenarioJson(JsonElement element, string file, string path)
    {
        (File, Path, _object) = (file, path, element);
        if (element.ValueKind != JsonValueKind.Object)
            throw Wrong(path, "an object is expected here");
    }

    internal string File { get; }
    internal string Path { get; }

    internal bool Has(string name) => TryGet(name, out _);

    internal string Text(string name) => TextOrNull(name) ?? throw Missing(name);

    internal string? TextOrNull(string name) => !TryGet(name, out var value) ? null
        : value.ValueKind == JsonValueKind.String ? value.GetString() : throw Wrong(At(name), "a text is expected");

    internal bool Flag(string name, bool otherwise) => !TryGet(name, out var value) ? otherwise
        : value.ValueKind is JsonValueKind.True or JsonValueKind.False ? value.GetBoolean()
            : throw Wrong(At(name), "true or false is expected");

    internal long Whole(string name, long least, long most) => Has(name) ? Whole(name, least, most, 0) : throw Missing(name);

    internal long Whole(string name, long least, long most, long otherwise) =>
        !TryGet(name, out var value) ? otherwise : WholeOf(value, At(name), least, most);

    internal double Number(string name, double least, double most) => Has(name) ? Number(name, least, most, 0) : throw Missing(name);

    internal double Number(string name, double least, double most, double otherwise) =>
        !TryGet(name, out var value) ? otherwise : NumberOf(value, At(name), least, most);

    /// <summary>Seconds (any fraction) as µs.</summary>
    internal long Seconds(string name) => (long)Math.Round(Number(name, 0, 1e7) * 1e6);

    internal long Seconds(string name, long otherwiseUs) => Has(name) ? Seconds(name) : otherwiseUs;

    internal byte[]? Octets(string name, int length)
    {
        string? text = TextOrNull(name);
        if (text is null)
            return null;
        if (text.Length != 2 * length || !text.All(char.IsAsciiHexDigit))
            throw Wrong(At(name), string.Create(CultureInfo.InvariantCulture, $"{2 * length} hex digits are expected"));
        return Convert.FromHexString(text);
    }

    internal MeshAddress? AddressOrNull(string name)
    {
        string? text = TextOrNull(name);
        return text is null ? null : MeshAddress.TryParse(text, out var address) ? address
            : throw Wrong(At(name), "a mesh address of 4 hex digits is expected");
    }

    /// <summary>[x, y] in metres.</summary>
    internal Radio.Place Place(string name)
    {
        if (!TryGet(name, out var value))
            throw Missing(name);
        if (value.ValueKind != JsonValueKind.Array || value.GetArrayLength() != 2)
            throw Wrong(At(name), "a place is two numbers, metres to the east and to the north: [x, y]");
        return new Radio.Place(NumberOf(value[0], At(name) + "[0]", -1e5, 1e5), NumberOf(value[1], At(name) + "[1]", -1e5, 1e5));
    }

    internal ScenarioJson Object(string name) => ObjectOrNull(name) ?? throw Missing(name);

    internal ScenarioJson? ObjectOrNull(string name) => TryGet(name, out var value) ? new ScenarioJson(value, File, At(name)) : null;

    internal IEnumerable<ScenarioJson> Objects(string name) => Items(name).Select(item => new ScenarioJson(item.Value, File, item.Path));

    internal IEnumerable<string> Texts(string name) => Items(name).Select(item =>
        item.Value.ValueKind == JsonValueKind.String ? item.Value.GetString()! : throw Wrong(item.Path, "a text is expected"));

    internal IEnumerable<long> Wholes(string name, long least, long most) =>
        Items(name).Select(item => WholeOf(item.Value, item.Path, least, most));

    /// <summary>The members of an array, each with its path; nothing where there is no such array.</summary>
    internal IEnumerable<(JsonElement Value, string Path)> Items(string name)
    {
        if (!TryGet(name, out var value))
            yield break;
        if (value.ValueKind != JsonValueKind.Array)
            throw Wrong(At(name), "an array is expected");
        int index = 0;
        foreach (var item in value.EnumerateArray())
            yield return (item, string.Create(CultureInfo.InvariantCulture, $"{At(name)}[{index++}]"));
    }

    internal JsonValueKind KindOf(string name) => TryGet(name, out var value) ? value.ValueKind : JsonValueKind.Undefined;

    /// <summary>Refuses members that nobody asked for.</summary>
    internal void Finish()
    {
        foreach (var member in _object.EnumerateObject())
        {
            if (!_asked.Contains(member.Name))
                throw Wrong(At(member.Name), $"unknown member; known here: {string.Join(", ", _asked.Order(StringComparer.Ordinal))}");
        }
    }

    /// <summary>Writes the members as they stand in the scenario, but for some.</summary>
    internal void WriteMembers(Utf8JsonWriter json, params ReadOnlySpan<string> without)
    {
        foreach (JsonProperty member in _object.EnumerateObject())
        {
            if (!without.Contains(member.Name))
                member.WriteTo(json);
        }
    }

    internal string At(string name) => $"{Path}.{name}";

    internal ScenarioException Wrong(string path, string says) => new(File, path, says);

    internal ScenarioException WrongMember(string name, string says) => Wrong(At(name), says);

    private ScenarioException Missing(string name) => Wrong(At(name), "this member is needed");

    private bool TryGet(string name, out JsonElement value)
    {
        _asked.Add(name);
        return _object.TryGetProperty(name, out value);
    }

    private long WholeOf(JsonElement value, string path, long least, long most) =>
        value.ValueKind == JsonValueKind.Number && value.TryGetInt64(out long number) && number >= least && number <= most
            ? number
            : throw Wrong(path, string.Create(CultureInfo.InvariantCulture, $"a whole number from {least} to {most} is expected"));

    private double NumberOf(JsonElement value, string path, double least, double most) =>
        value.ValueKind == JsonValueKind.Number && value.TryGetDouble(out double number) && number >= least && number <= most
            ? number
            : throw Wrong(path, string.Create(CultureInfo.InvariantCulture, $"a number from {least} to {most} is expected"));
}
