using System.Text;
using System.Text.Json.Nodes;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Tests.Description;

/// <summary>What identifies or decrypts and is wrong: refused, with its place, and without a word of the file's own text.</summary>
public sealed class BadDescriptionTests
{
    private static NetworkDescriptionException Refused(string json)
    {
        var problem = Assert.Throws<NetworkDescriptionException>(() => LibraryDatabase.Read(json));
        Assert.Equal(LibraryDatabase.File, problem.File);
        return problem;
    }

    private const string Half = "\"7B21D06F5A9E4C38B4D7E1F0926C853\"";

    [Theory]
    [InlineData("nodes.2", "deviceKey", Half, "31 hex digits, 32 needed")]
    [InlineData("nodes.2", "deviceKey", "\"7B21D06F5A9E4C38B4D7E1F0926C853AA\"", "33 hex digits, 32 needed")]
    [InlineData("nodes.2", "deviceKey", "\"\"", "0 hex digits, 32 needed")]
    [InlineData("nodes.2", "deviceKey", "\"7B21D06F5A9E4C38B4D7E1F0926C85Z3\"", "character 31 is no hex digit, 32 hex digits needed")]
    [InlineData("nodes.2", "deviceKey", "17", "a number where a text is needed")]
    [InlineData("netKeys.0", "key", Half, "31 hex digits, 32 needed")]
    [InlineData("netKeys.1", "oldKey", "[]", "a list where a text is needed")]
    [InlineData("appKeys.0", "key", Half, "31 hex digits, 32 needed")]
    [InlineData("netKeys.0", "index", "4096", "a whole number 0..4095 needed")]
    [InlineData("netKeys.0", "index", "-1", "a whole number 0..4095 needed")]
    [InlineData("netKeys.0", "index", "1.5", "a whole number 0..4095 needed")]
    [InlineData("netKeys.0", "index", "1e300", "a whole number 0..4095 needed")]
    [InlineData("netKeys.0", "index", "\"0\"", "a text where a whole number is needed")]
    [InlineData("appKeys.0", "boundNetKey", "true", "true or false where a whole number is needed")]
    [InlineData("nodes.1", "unicastAddress", "\"0000\"", "no unicast address, 0001..7FFF needed")]
    [InlineData("nodes.1", "unicastAddress", "\"8000\"", "no unicast address, 0001..7FFF needed")]
    [InlineData("nodes.1", "unicastAddress", "\"002\"", "3 hex digits, 4 needed")]
    [InlineData("nodes.1", "unicastAddress", "2", "a number where a text is needed")]
    [InlineData("nodes.1", "UUID", "\"21C6E9D4-1A2B-4C3D-9E4F-5A6B7C8D9E\"", "30 hex digits, 32 needed, in groups of 8-4-4-4-12 with dashes")]
    [InlineData("nodes.1", "elements", "{}", "an object where a list is needed")]
    [InlineData("nodes.1.elements", "0", "[]", "a list where an object is needed")]
    [InlineData("nodes.1.elements.0", "index", "1", "another element of this node has the same index", "$.nodes[1].elements[1].index")]
    [InlineData("nodes.1.elements.0", "index", "255", "a whole number 0..254 needed")]
    [InlineData("nodes.1.elements.0.models.1", "modelId", "\"10\"", "2 hex digits, 4 or 8 needed")]
    [InlineData("nodes.2.elements.0.models.0.subscribe", "0", "\"0002\"", "neither a group address (C000..FFFF) nor a label UUID")]
    [InlineData("nodes.2.elements.0.models.0.subscribe", "1", "\"0073E7E4D8B9440FAF8415DF4C56C0\"", "30 hex digits, 4 or 32 needed")]
    [InlineData("nodes.2.elements.0.models.0.bind", "0", "5000", "a whole number 0..4095 needed")]
    [InlineData("nodes.1.elements.0.models.1.publish", "index", "4096", "a whole number 0..4095 needed")]
    [InlineData("groups.0", "address", "\"0010\"", "neither a group address (C000..FFFF) nor a label UUID")]
    [InlineData("scenes.0", "number", "\"0000\"", "scene 0000 does not exist, 0001..FFFF needed")]
    [InlineData("networkExclusions.0", "ivIndex", "4294967296", "a whole number 0..4294967295 needed")]
    [InlineData("", "nodes", "\"none\"", "a text where a list is needed")]
    public void WrongValue_IsNamedWithItsPath(string path, string member, string json, string says, string? at = null)
    {
        JsonNode root = JsonNode.Parse(LibraryDatabase.Json)!;
        JsonNode parent = path.Length == 0 ? root : root.At(path);
        if (parent is JsonArray list)
            list[int.Parse(member, System.Globalization.CultureInfo.InvariantCulture)] = JsonNode.Parse(json);
        else
            parent[member] = JsonNode.Parse(json);
        NetworkDescriptionException problem = Refused(root.ToJsonString());
        Assert.Equal(says, problem.Says);
        Assert.Equal(at ?? PathOf(path, member), problem.JsonPath);
        Assert.Equal($"library.json: {problem.JsonPath}: {says}", problem.Message);
        Assert.Null(problem.Line);
    }

    private static string PathOf(string path, string member)
    {
        var text = new StringBuilder("$");
        foreach (string step in $"{path}.{member}".Split('.', StringSplitOptions.RemoveEmptyEntries))
            text.Append(char.IsAsciiDigit(step[0]) ? $"[{step}]" : $".{step}");
        return text.ToString();
    }

    [Theory]
    [InlineData("netKeys.0", "index")]
    [InlineData("netKeys.0", "key")]
    [InlineData("appKeys.1", "key")]
    [InlineData("nodes.3", "unicastAddress")]
    [InlineData("nodes.3.netKeys.0", "index")]
    [InlineData("nodes.3.elements.0", "index")]
    [InlineData("nodes.3.elements.0.models.0", "modelId")]
    [InlineData("groups.0", "address")]
    [InlineData("scenes.0", "number")]
    [InlineData("provisioners.0.allocatedUnicastRange.0", "highAddress")]
    public void Missing_IsNamedWithItsPath(string path, string member)
    {
        JsonNode root = JsonNode.Parse(LibraryDatabase.Json)!;
        root.At(path).AsObject().Remove(member);
        NetworkDescriptionException problem = Refused(root.ToJsonString());
        Assert.Equal((PathOf(path, member), "missing"), (problem.JsonPath, problem.Says));
    }

    [Fact]
    public void ElementsBeyondTheLastUnicastAddress()
    {
        JsonNode root = JsonNode.Parse(LibraryDatabase.Json)!;
        root.At("nodes.1")["unicastAddress"] = "7FFF";
        NetworkDescriptionException problem = Refused(root.ToJsonString());
        Assert.Equal("$.nodes[1].elements[1].index", problem.JsonPath);
        Assert.Contains("7FFF", problem.Says, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("{}", "$: neither netKeys nor nodes: this is no Mesh Configuration Database")]
    [InlineData("[]", "$: a list where an object is needed")]
    [InlineData("null", "$: null where an object is needed")]
    [InlineData("{\"meshNetwork\": 5}", "$.meshNetwork: a number where an object is needed")]
    [InlineData("{\"meshNetwork\": {}}", "$.meshNetwork: neither netKeys nor nodes: this is no Mesh Configuration Database")]
    [InlineData("", "$: the file is empty")]
    [InlineData("  \n", "$: the file is empty")]
    [InlineData("\uFEFF", "$: the file is empty")]
    [InlineData("{\"\\uD800\": 1}", "$: a member name is not valid Unicode")]
    public void NoDatabase(string json, string says) => Assert.Equal($"library.json: {says}", Refused(json).Message);

    [Theory]
    [InlineData("a text, not JSON", 1, 1)]
    [InlineData("{\n  \"netKeys\": [,]\n}", 2, 15)]
    [InlineData("{\n  \"meshName\": \"B\u00fccherei\", x\n}", 2, 27)]
    [InlineData("{\"netKeys\": []} {}", 1, 17)]
    public void MalformedJson_HasLineAndColumn(string json, long line, long column)
    {
        NetworkDescriptionException problem = Refused(json);
        Assert.Equal((line, column), (problem.Line!.Value, problem.Column!.Value));
        Assert.StartsWith("malformed JSON", problem.Says, StringComparison.Ordinal);
    }

    [Fact]
    public void CutFile_SaysThatItEnds()
    {
        string cut = LibraryDatabase.Json[..^40];
        NetworkDescriptionException problem = Refused(cut);
        Assert.Equal("malformed JSON: the file ends before the JSON does", problem.Says);
        Assert.Equal(cut.Count(c => c == '\n') + 1, problem.Line);
    }

    [Fact]
    public void InvalidUtf8_HasLineAndColumn()
    {
        byte[] octets = Encoding.UTF8.GetBytes("{\n \"meshName\": \"X\" }");
        octets[^4] = 0xC3;   // the first of two octets, followed by a quotation mark
        var problem = Assert.Throws<NetworkDescriptionException>(() => NetworkDescriptionReader.Read(octets, "bad.json"));
        Assert.Equal(("bad.json: line 2, column 15: not valid UTF-8"), problem.Message);
    }

    [Fact]
    public void NestedTooDeep_IsRefused() =>
        Assert.Contains("nested deeper", Refused($"{{\"x\":{new string('[', 100_000)}").Says, StringComparison.Ordinal);

    [Fact]
    public void ListsBeyondTheLimit_AreRefused()
    {
        string json = $"{{\"nodes\":[],\"groups\":[{string.Join(',', Enumerable.Repeat("{}", DescriptionLimits.ListEntries + 1))}]}}";
        Assert.Equal("65537 entries, at most 65536 are read", Refused(json).Says);
    }

    [Fact]
    public void FileNames_AreShownSafely()
    {
        var problem = Assert.Throws<NetworkDescriptionException>(() => NetworkDescriptionReader.Read("{}"u8.ToArray(), "a\u001b[2Jb\u202e.json"));
        Assert.StartsWith("a[2Jb.json: ", problem.Message, StringComparison.Ordinal);
    }

    /// <summary>A key without its quotation marks, or in the place of an address: even then no part of it is repeated.</summary>
    [Theory]
    [InlineData("\"unicastAddress\": \"0002\"", "\"unicastAddress\": \"F4C8137E2D6B4A90857C3E1DA0B9F264\"")]
    [InlineData("\"unicastAddress\": \"0002\"", "\"unicastAddress\": f4c8137e2d6b4a90857c3e1da0b9f264")]
    [InlineData("\"C4F8137E2D6B4A90857C3E1DA0B9F264\"", "C4F8137E2D6B4A90857C3E1DA0B9F264")]
    [InlineData("\"C4F8137E2D6B4A90857C3E1DA0B9F264\"", "tC4F8137E2D6B4A90857C3E1DA0B9F264")]
    [InlineData("\"C4F8137E2D6B4A90857C3E1DA0B9F264\"", "13771377137713771377137713771377")]
    [InlineData("\"name\": \"Entrance panel\"", "\"C4F8137E2D6B4A90857C3E1DA0B9F264\" \"x\"")]
    [InlineData("\"index\": 7, \"phase\"", "\"index\": \"C4F8137E2D6B4A90857C3E1DA0B9F264\", \"phase\"")]
    public void NoPartOfAKey_IsRepeated(string from, string to)
    {
        Assert.Contains(from, LibraryDatabase.Json, StringComparison.Ordinal);
        NetworkDescriptionException problem = Refused(LibraryDatabase.Json.Replace(from, to, StringComparison.Ordinal));
        foreach (string part in (string[])["C4F8", "137E", "2D6B", "1377"])
            Assert.DoesNotContain(part, problem.ToString(), StringComparison.OrdinalIgnoreCase);
    }
}
