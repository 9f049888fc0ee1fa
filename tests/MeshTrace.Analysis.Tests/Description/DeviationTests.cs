using System.Text;
using System.Text.Json.Nodes;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Tests.Description;

/// <summary>Deviations met in real exports: each is read, and told.</summary>
public sealed class DeviationTests
{
    private static NetworkDescription Change(string path, string member, string json, string repair)
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root => Parent(root, path)[member] = JsonNode.Parse(json));
        Assert.Equal([repair], description.Repairs);
        return description;
    }

    private static JsonNode Parent(JsonNode root, string path) => path.Length == 0 ? root : root.At(path);

    private static NetworkDescription Remove(string path, string member, params string[] repairs)
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root => Assert.True(Parent(root, path).AsObject().Remove(member)));
        Assert.Equal(repairs, description.Repairs);
        return description;
    }

    [Fact]
    public void WrappedDatabase_IsUnwrapped()
    {
        NetworkDescription description = LibraryDatabase.Read($"{{\"meshNetwork\": {LibraryDatabase.Json}}}");
        Assert.Equal("Library", description.Name);
        Assert.Equal(["$.meshNetwork: the database stands inside this member, unwrapped"], description.Repairs);
    }

    [Fact]
    public void UuidWithoutDashes()
    {
        NetworkDescription description = Change("nodes.1", "UUID", "\"21c6e9d41a2b4c3d9e4f5a6b7c8d9ea0\"",
            "$.nodes[1].UUID: UUID without dashes, read as it stands");
        Assert.Equal(Guid.Parse("21C6E9D4-1A2B-4C3D-9E4F-5A6B7C8D9EA0"), description.Nodes[1].Uuid);
    }

    [Fact]
    public void ManyOfAKind_AreOneLine()
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root =>
        {
            foreach (JsonNode? node in root["nodes"]!.AsArray())
                node!["security"] = "high";
        });
        Assert.Equal(["$.nodes[0].security: \"high\" read as secure; 6 more like it"], description.Repairs);
        Assert.All(description.Nodes, node => Assert.True(node.SecurelyProvisioned));
    }

    [Fact]
    public void LowSecurity() => Assert.False(
        Change("netKeys.0", "minSecurity", "\"low\"", "$.netKeys[0].minSecurity: \"low\" read as insecure").NetKeys[0].SecureNodesOnly);

    [Fact]
    public void Blacklisted_IsExcluded()
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root =>
        {
            JsonObject node = root.At("nodes.2").AsObject();
            node.Remove("excluded");
            node["blacklisted"] = true;
        });
        Assert.True(description.Nodes[2].Excluded);
        Assert.Equal(["$.nodes[2].blacklisted: older name of excluded, same meaning"], description.Repairs);
    }

    [Theory]
    [InlineData(3, 30)]
    [InlineData(1, 10)]
    [InlineData(32, 320)]
    public void TransmitIntervalInSteps(int written, int ms) => Assert.Equal(new DescribedTransmit(2, ms), Change(
        "nodes.1", "networkTransmit", $$"""{ "count": 2, "interval": {{written}} }""",
        $"$.nodes[1].networkTransmit: interval written in steps of 10 ms ({written} read as {ms} ms)").Nodes[1].NetworkTransmit);

    [Theory]
    [InlineData(0, 20)]
    [InlineData(3, 0)]
    public void TransmitOfZero_IsUnknown(int count, int interval) => Assert.Null(Change(
        "nodes.1", "relayRetransmit", $$"""{ "count": {{count}}, "interval": {{interval}} }""",
        "$.nodes[1].relayRetransmit: count or interval of 0, left unknown").Nodes[1].RelayRetransmit);

    [Theory]
    [InlineData("""{ "count": 9, "interval": 20 }""", "$.nodes[1].networkTransmit.count: not understood, left unknown (a whole number 0..8 needed)")]
    [InlineData("""{ "count": 2, "interval": 330 }""", "$.nodes[1].networkTransmit.interval: not understood, left unknown (a whole number 0..320 needed)")]
    [InlineData("""{ "count": 2, "interval": 33 }""", "$.nodes[1].networkTransmit: interval is no multiple of 10 ms, left unknown")]
    public void TransmitOutOfRange_IsUnknown(string json, string repair) =>
        Assert.Null(Change("nodes.1", "networkTransmit", json, repair).Nodes[1].NetworkTransmit);

    [Fact]
    public void OldKeyOfZeros_IsNone() => Assert.Null(Change(
        "netKeys.1", "oldKey", "\"00000000000000000000000000000000\"", "$.netKeys[1].oldKey: 32 zeros, read as no old key").NetKeys[1].OldKey);

    [Theory]
    [InlineData(5000, "an integer instead of steps and resolution, read as milliseconds (5000 ms)")]
    [InlineData(1234, "an integer instead of steps and resolution, read as milliseconds though it is no multiple of 100 (1234 ms)")]
    public void PublishPeriodAsInteger(int ms, string says) => Assert.Equal(ms, Change(
        "nodes.1.elements.0.models.1.publish", "period", $"{ms}", $"$.nodes[1].elements[0].models[1].publish.period: {says}")
        .Nodes[1].Elements[0].Models[1].Publish!.PeriodMs);

    [Fact]
    public void IvIndexAtTheTop_IsAHint()
    {
        Assert.Equal(4_000_000_000u, Change("", "ivIndex", "4000000000", "$.ivIndex: not part of the profile, taken as a hint").IvIndexHint);
        Assert.Null(Change("", "ivIndex", "-1", "$.ivIndex: not understood, left unknown (a whole number 0..4294967295 needed)").IvIndexHint);
    }

    [Fact]
    public void GroupsOrScenesMissing_AreEmpty()
    {
        Assert.Empty(Remove("", "groups", "$.groups: missing, read as empty").Groups);
        Assert.Empty(Remove("", "scenes", "$.scenes: missing, read as empty").Scenes);
    }

    [Fact]
    public void DoubledUuid_KeepsBoth()
    {
        NetworkDescription description = Change("nodes.4", "UUID", "\"21C6E9D4-1A2B-4C3D-9E4F-5A6B7C8D9EA0\"",
            "$.nodes[4].UUID: another node has the same UUID, both kept");
        Assert.Equal(7, description.Nodes.Count);
    }

    [Fact]
    public void OverlappingAddresses_KeepBoth() => Assert.Equal(7, Change("nodes.3", "unicastAddress", "\"0011\"",
        "$.nodes[3].unicastAddress: another node claims one of the same element addresses, both kept").Nodes.Count);

    [Fact]
    public void ElementsEmpty_CountUnknown() => Assert.Null(Change("nodes.4", "elements", "[]",
        "$.nodes[4].elements: empty: the composition was never read, number of elements unknown").Nodes[4].ElementCount);

    [Fact]
    public void ElementsMissing_CountUnknown() =>
        Assert.Null(Remove("nodes.4", "elements", "$.nodes[4].elements: missing, number of elements unknown").Nodes[4].ElementCount);

    [Fact]
    public void UnknownMembers_AreIgnored()
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root =>
        {
            root["floorPlan"] = new JsonObject { ["rooms"] = new JsonArray(1, "two", null) };
            root.At("nodes.1")["battery"] = 97;
            root.At("nodes.1.elements.0.models.1")["colour"] = new JsonArray();
        });
        Assert.Empty(description.Repairs);
    }

    [Fact]
    public void OlderSceneNumber()
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root =>
        {
            JsonObject scene = root.At("scenes.0").AsObject();
            scene.Remove("number");
            scene["scene"] = "000B";
        });
        Assert.Equal(0x000B, Assert.Single(description.Scenes).Number);
        Assert.Equal(["$.scenes[0].scene: older name of number, same meaning"], description.Repairs);
    }

    [Fact]
    public void OtherVersion_IsReadAsTheLatest() =>
        Assert.Equal("1.2.0", Change("", "version", "\"1.2.0\"", "$.version: neither 1.0.0 nor 1.0.1, read as 1.0.1").Version);

    [Theory]
    [InlineData("", "$schema", "$.$schema: missing, not needed")]
    [InlineData("", "meshName", "$.meshName: missing, left unknown")]
    [InlineData("", "meshUUID", "$.meshUUID: missing, left unknown")]
    [InlineData("", "timestamp", "$.timestamp: missing, left unknown")]
    [InlineData("", "provisioners", "$.provisioners: missing, read as empty")]
    [InlineData("netKeys.0", "phase", "$.netKeys[0].phase: missing, read as 0, no key refresh")]
    [InlineData("appKeys.0", "boundNetKey", "$.appKeys[0].boundNetKey: missing, left unknown")]
    [InlineData("nodes.2", "deviceKey", "$.nodes[2].deviceKey: missing, the Config messages of this node stay unread")]
    [InlineData("nodes.2", "appKeys", "$.nodes[2].appKeys: missing, left unknown")]
    [InlineData("nodes.2", "excluded", "$.nodes[2].excluded: missing, read as false")]
    [InlineData("nodes.1.heartbeatPub", "address", "$.nodes[1].heartbeatPub.address: missing, read as no heartbeat")]
    [InlineData("nodes.1.heartbeatSub", "source", "$.nodes[1].heartbeatSub.source: missing, read as no heartbeat")]
    [InlineData("nodes.2.netKeys.0", "updated", "$.nodes[2].netKeys[0].updated: missing, read as false")]
    [InlineData("nodes.2.elements.0.models.0", "bind", "$.nodes[2].elements[0].models[0].bind: missing, read as empty")]
    [InlineData("nodes.1.elements.0.models.1.publish", "address", "$.nodes[1].elements[0].models[1].publish.address: missing, read as no publication")]
    public void RequiredButNotNeeded_IsNoted(string path, string member, string repair) => Remove(path, member, repair);

    [Fact]
    public void KeysOfANodeMissing_AreUnknownNotNone() =>
        Assert.Null(Remove("nodes.2", "appKeys", "$.nodes[2].appKeys: missing, left unknown").Nodes[2].AppKeys);

    [Fact]
    public void PartialDatabase_MayLackDeviceKeys()
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root =>
        {
            root["partial"] = true;
            root.At("nodes.2").AsObject().Remove("deviceKey");
            root.Remove("netKeys");
            root.Remove("provisioners");
        });
        Assert.True(description.Partial);
        Assert.Null(description.Nodes[2].DeviceKey);
        Assert.Empty(description.Repairs);
    }

    [Fact]
    public void NoNetKeys_IsSaid() => Change("", "netKeys", "[]", "$.netKeys: no NetKey: without one typed by hand nothing can be decrypted");

    [Fact]
    public void TwoKeysWithOneIndex_KeepsBoth() =>
        Assert.Equal(2, Change("netKeys.1", "index", "0", "$.netKeys: two keys with the same index, both kept (index 0)").NetKeys.Count);

    [Theory]
    [InlineData("nodes.1", "defaultTTL", "1", "$.nodes[1].defaultTTL: 1 is prohibited, left unknown")]
    [InlineData("nodes.1", "defaultTTL", "128", "$.nodes[1].defaultTTL: not understood, left unknown (a whole number 0..127 needed)")]
    [InlineData("nodes.1", "cid", "\"12345\"", "$.nodes[1].cid: not understood, left unknown (4 hex digits needed)")]
    [InlineData("nodes.1", "name", "5", "$.nodes[1].name: not understood, left unknown (a number where a text is needed)")]
    [InlineData("nodes.1", "name", "\"\\uD800\"", "$.nodes[1].name: not understood, left unknown (not valid Unicode)")]
    [InlineData("nodes.1", "secureNetworkBeacon", "1", "$.nodes[1].secureNetworkBeacon: not understood, left unknown (true or false needed)")]
    [InlineData("nodes.1", "security", "\"medium\"", "$.nodes[1].security: neither secure nor insecure, left unknown")]
    [InlineData("nodes.1.features", "relay", "3", "$.nodes[1].features.relay: not understood, left unknown (a whole number 0..2 needed)")]
    [InlineData("nodes.1.elements.1.models.0.publish", "ttl", "200", "$.nodes[1].elements[1].models[0].publish.ttl: 128..254 are prohibited, left unknown")]
    [InlineData("nodes.1.elements.1.models.0.publish.period", "resolution", "7",
        "$.nodes[1].elements[1].models[0].publish.period.resolution: none of 100, 1000, 10000, 600000 ms, left unknown")]
    [InlineData("", "timestamp", "\"yesterday evening\"", "$.timestamp: not understood, left unknown (an RFC 3339 time needed)")]
    [InlineData("", "timestamp", "\"17:40\"", "$.timestamp: not understood, left unknown (an RFC 3339 time needed)")]
    [InlineData("nodes.1", "unicastAddress", "\"0x0002\"", "$.nodes[1].unicastAddress: written with 0x before the digits, read without")]
    [InlineData("groups.2", "address", "\"0073E7E4-D8B9-440F-AF84-15DF4C56C0E1\"", "$.groups[2].address: label UUID with dashes, read as it stands")]
    [InlineData("groups.2", "address", "\"B529\"",
        "$.groups[2].address: virtual address without its label UUID: messages to it cannot be decrypted by this entry")]
    [InlineData("provisioners.0.allocatedGroupRange.0", "lowAddress", "\"C1FF\"",
        "$.provisioners[0].allocatedGroupRange[0].lowAddress: the range stands upside down, read the other way round")]
    public void WhatOnlyDescribes_IsLeftUnknownAndNoted(string path, string member, string json, string repair)
    {
        // JsonNode cannot carry half a surrogate pair, so the change is made in a copy of the text.
        string marker = "\"@changed@\"";
        JsonNode root = JsonNode.Parse(LibraryDatabase.Json)!;
        Parent(root, path)[member] = "@changed@";
        NetworkDescription description = LibraryDatabase.Read(root.ToJsonString().Replace(marker, json, StringComparison.Ordinal));
        Assert.Equal([repair], description.Repairs);
    }

    [Fact]
    public void NumbersWrittenWithAFraction_AreWhole()
    {
        string json = LibraryDatabase.Json.Replace("\"index\": 4095, \"boundNetKey\": 7", "\"index\": 4.095e3, \"boundNetKey\": 7.0", StringComparison.Ordinal);
        Assert.Equal((4095, 7), (LibraryDatabase.Read(json).AppKeys[1].Index, LibraryDatabase.Read(json).AppKeys[1].BoundNetKey));
    }

    [Theory]
    [InlineData("utf-8", false)]
    [InlineData("utf-16", true)]
    [InlineData("utf-16BE", true)]
    public void ByteOrderMark_IsRead(string encoding, bool told)
    {
        Encoding with = Encoding.GetEncoding(encoding);
        byte[] octets = [.. with.GetPreamble(), .. with.GetBytes(LibraryDatabase.Json)];
        NetworkDescription description = NetworkDescriptionReader.Read(octets, LibraryDatabase.File);
        Assert.Equal("Library", description.Name);
        Assert.Equal(told ? ["$: the file is UTF-16, read as such"] : [], description.Repairs);
    }
}
