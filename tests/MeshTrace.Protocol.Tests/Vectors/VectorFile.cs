using System.Globalization;
using System.Text.Json;

namespace MeshTrace.Protocol.Tests.Vectors;

/// <summary>
/// The two files of worked examples: sample-data.json (Mesh Protocol 1.1 §8, with supplementary ones) and crypto-vectors.json (RFC 3610, 4231,
/// 4493, 5903, NIST SP 800-38C, FIPS 197). Each vector names its own source and tells how it was read.
/// </summary>
public sealed class VectorFile
{
    public static readonly VectorFile SampleData = new("sample-data.json");
    public static readonly VectorFile Cryptography = new("crypto-vectors.json");

    private readonly Dictionary<string, Vector> _byId = [];

    private VectorFile(string name)
    {
        using JsonDocument document = JsonDocument.Parse(File.ReadAllBytes(Path.Combine(AppContext.BaseDirectory, "Vectors", name)));
        foreach (string list in (ReadOnlySpan<string>)["vectors", "supplementary_vectors"])
        {
            if (!document.RootElement.TryGetProperty(list, out JsonElement vectors))
                continue;
            foreach (JsonElement vector in vectors.EnumerateArray())
                _byId.Add(vector.GetProperty("id").GetString()!, new Vector(vector.Clone()));
        }
    }

    public IReadOnlyCollection<Vector> All => _byId.Values;

    public Vector this[string id] => _byId[id];

    /// <summary>The ids of all vectors of these kinds, for a theory: the runner then counts each vector.</summary>
    public TheoryData<string> IdsOf(params string[] kinds) => [.. All.Where(v => kinds.Contains(v.Kind)).Select(v => v.Id)];
}

/// <summary>One worked example: what goes in, and each value that must come out.</summary>
public sealed class Vector(JsonElement json)
{
    public JsonElement Json { get; } = json;
    public string Id => Json.GetProperty("id").GetString()!;
    public string Kind => Json.GetProperty("kind").GetString()!;
    public JsonElement Inputs => Json.GetProperty("inputs");
    public JsonElement Outputs => Json.GetProperty("outputs");

    public byte[] In(string name) => Inputs.Octets(name);
    public byte[] Out(string name) => Outputs.Octets(name);
    public bool Gives(string name) => Outputs.TryGetProperty(name, out _);
    public bool Has(string name) => Inputs.TryGetProperty(name, out _);
    public override string ToString() => Id;
}

/// <summary>Reading of vector members: octet strings and numbers are hexadecimal text, small numbers are JSON integers.</summary>
public static class VectorMembers
{
    public static byte[] Octets(this JsonElement element, string name) => Convert.FromHexString(element.GetProperty(name).GetString()!);

    public static uint Hex(this JsonElement element, string name) =>
        uint.Parse(element.GetProperty(name).GetString()!, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture);

    public static MeshAddress Address(this JsonElement element, string name) => new((ushort)element.Hex(name));

    public static int Number(this JsonElement element, string name) => element.GetProperty(name).GetInt32();

    public static string Text(this JsonElement element, string name) => element.GetProperty(name).GetString()!;

    public static IEnumerable<byte[]> OctetStrings(this JsonElement element, string name) =>
        element.GetProperty(name).EnumerateArray().Select(e => Convert.FromHexString(e.GetString()!));
}
