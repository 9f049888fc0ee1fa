using System.Text;
using System.Text.Json.Nodes;
using CsCheck;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Description;

/// <summary>Whatever stands in the file: it is read, or refused with the one exception; and a key shows itself nowhere.</summary>
public sealed class HostileDescriptionTests
{
    private static readonly byte[] s_library = Encoding.UTF8.GetBytes(LibraryDatabase.Json);

    private static void ReadOrRefuse(byte[] octets)
    {
        string shown;
        try
        {
            NetworkDescription description = NetworkDescriptionReader.Read(octets, LibraryDatabase.File);
            UseEverything(description);
            shown = string.Join('\n', description.Repairs);
        }
        catch (NetworkDescriptionException refused)
        {
            shown = refused.Message;
        }
        Assert.False(shown.Any(c => char.IsControl(c) && c != '\n'), shown);
        foreach (string key in LibraryDatabase.Keys)
        {
            Assert.False(shown.Contains(key[..8], StringComparison.OrdinalIgnoreCase), shown);
            Assert.False(shown.Contains(key[^8..], StringComparison.OrdinalIgnoreCase), shown);
        }
    }

    private static void UseEverything(NetworkDescription description)
    {
        _ = description.LabelUuids.Count();
        foreach (DescribedNode node in description.Nodes)
        {
            Assert.Contains(node, description.NodesAt(node.Unicast));
            Assert.NotEmpty(description.NameOf(node.Unicast));
        }
        foreach (DescribedGroup group in description.Groups)
            Assert.NotEmpty(description.NameOf(group.Address.Address));
        _ = description.SubscribersOf(MeshAddress.AllNodes, [0x1000]);
        _ = description.SubscribersOf(new MeshAddress(0xC001), [0x1000]);
    }

    private static readonly Gen<string> s_value = Gen.OneOf(
        Gen.OneOf("null", "true", "false", "{}", "[]", "\"\"", "0", "-1", "1e400", "99999999999999999999", "0.5", "\"\\uD800\"", "\"\\uDC00x\"", "[[[]]]",
            "{\"\\uD800\":1}", "\"0000\"", "\"FFFF\"", "\"7FFF\"", "\"8001\"", "\"0x0001\"", "\"00000000000000000000000000000000\"", "{\"index\":0}",
            "[0,1,\"C001\",null]", "\"\\u001b[31m\\u202e\""),
        Gen.Int.Select(number => $"{number}"),
        Gen.String.Select(text => JsonValue.Create(text).ToJsonString()));

    /// <summary>Any value of the tree in the place of any other.</summary>
    [Fact]
    public void AnyValueReplaced()
    {
        int values = CountValues(JsonNode.Parse(LibraryDatabase.Json)!);
        Gen.Select(Gen.Int[1, values - 1], s_value).Sample((at, value) =>
        {
            const string Marker = "@changed@";
            JsonNode root = JsonNode.Parse(LibraryDatabase.Json)!;
            int left = at;
            Replace(root, ref left, Marker);
            ReadOrRefuse(Encoding.UTF8.GetBytes(root.ToJsonString().Replace($"\"{Marker}\"", value, StringComparison.Ordinal)));
        }, iter: 3_000, threads: 1);
    }

    /// <summary>Octets overwritten, taken out or put in.</summary>
    [Fact]
    public void AnyOctetsChanged() =>
        Gen.Select(Gen.Int[0, s_library.Length - 1], Gen.Int[0, 12], Gen.Byte.Array[0, 6]).Array[1, 3].Sample(changes =>
        {
            List<byte> octets = [.. s_library];
            foreach ((int at, int taken, byte[] put) in changes)
            {
                int start = Math.Min(at, octets.Count);
                octets.RemoveRange(start, Math.Min(taken, octets.Count - start));
                octets.InsertRange(start, put);
            }
            ReadOrRefuse([.. octets]);
        }, iter: 3_000, threads: 1);

    [Fact]
    public void EveryTruncation()
    {
        for (int length = 0; length < s_library.Length; length++)
        {
            byte[] cut = s_library[..length];
            var refused = Assert.Throws<NetworkDescriptionException>(() => NetworkDescriptionReader.Read(cut, "cut.json"));
            Assert.True(length == 0 || refused.Line is not null);
        }
    }

    [Fact]
    public void AnyOctets() => Gen.Byte.Array[0, 200].Sample(ReadOrRefuse, iter: 3_000, threads: 1);

    [Theory]
    [InlineData("\u001b]0;owned\u0007Lamp", "]0;ownedLamp")]
    [InlineData("safe\u202egnp.exe\u202c", "safegnp.exe")]
    [InlineData("<script>alert(1)</script>", "<script>alert(1)</script>")]
    [InlineData("line one\r\nline two", "line one line two")]
    public void HostileNames_AreKeptRawAndShownSafely(string name, string shown)
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root =>
        {
            root.At("nodes.2")["name"] = name;
            root.At("groups.1")["name"] = name;
        });
        Assert.Equal(name, description.Nodes[2].Name);
        Assert.Equal(shown, description.NameOf(new MeshAddress(0x0010)));
        Assert.Equal(shown, description.NameOf(new MeshAddress(0xC001)));
    }

    [Theory]
    [InlineData("")]
    [InlineData("\u200b\u200e")]
    [InlineData("\u0000\u0001")]
    public void NamesWithNothingVisible_CountAsNone(string name)
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root => root.At("nodes.2")["name"] = name);
        Assert.Equal("0x0010", description.NameOf(new MeshAddress(0x0010)));
    }

    private static int CountValues(JsonNode? node) => 1 + node switch
    {
        JsonObject members => members.Sum(member => CountValues(member.Value)),
        JsonArray list => list.Sum(CountValues),
        _ => 0,
    };

    private static bool Replace(JsonNode node, ref int left, string marker)
    {
        if (node is JsonObject members)
        {
            foreach (string name in members.Select(member => member.Key).ToArray())
            {
                if (--left == 0)
                {
                    members[name] = marker;
                    return true;
                }
                if (members[name] is { } child && Replace(child, ref left, marker))
                    return true;
            }
        }
        else if (node is JsonArray list)
        {
            for (int i = 0; i < list.Count; i++)
            {
                if (--left == 0)
                {
                    list[i] = marker;
                    return true;
                }
                if (list[i] is { } child && Replace(child, ref left, marker))
                    return true;
            }
        }
        return false;
    }
}
