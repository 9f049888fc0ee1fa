using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Description;

/// <summary>Every table of the library's database, value by value as it was written.</summary>
public sealed class LibraryDescriptionTests
{
    private static readonly NetworkDescription s_library = LibraryDatabase.Read();

    private static string Hex(KeyOctets? key) => Convert.ToHexString(key!.Octets);

    [Fact]
    public void WellFormedDatabase_NeedsNoRepair() => Assert.Empty(s_library.Repairs);

    [Fact]
    public void TopLevel()
    {
        Assert.Equal("Library", s_library.Name);
        Assert.Equal(Guid.Parse("5b1e8c0a-3d1f-4b77-9e52-6a0c7d21f4e3"), s_library.MeshUuid);
        Assert.Equal("1.0.1", s_library.Version);
        Assert.Equal(new DateTimeOffset(2026, 3, 2, 17, 40, 11, TimeSpan.FromHours(1)), s_library.Timestamp);
        Assert.False(s_library.Partial);
        Assert.Null(s_library.IvIndexHint);
        Assert.Equal(7, s_library.Nodes.Count);
    }

    [Fact]
    public void NetKeys()
    {
        DescribedNetKey house = s_library.NetKeys[0];
        Assert.Equal(("House", 0, 0, true), (house.Name, house.Index, house.Phase, house.SecureNodesOnly));
        Assert.Equal("1E5AB60C77D2493F8811C0DE4B6A9F23", Hex(house.Key));
        Assert.Null(house.OldKey);

        DescribedNetKey stairwell = s_library.NetKeys[1];
        Assert.Equal(("Stairwell", 7, 1, false), (stairwell.Name, stairwell.Index, stairwell.Phase, stairwell.SecureNodesOnly));
        Assert.Equal("90A4F1D35E2C4B8EA7036D19BB5C82E4", Hex(stairwell.Key));
        Assert.Equal("3C77E0519DAF42168B5E04C2D8F6A31B", Hex(stairwell.OldKey));
        Assert.Equal(new DateTimeOffset(2026, 3, 1, 8, 30, 0, 250, TimeSpan.FromHours(-5)), stairwell.Timestamp);
    }

    [Fact]
    public void AppKeys()
    {
        Assert.Equal(("Lighting", 1, 0), (s_library.AppKeys[0].Name, s_library.AppKeys[0].Index, s_library.AppKeys[0].BoundNetKey));
        Assert.Null(s_library.AppKeys[0].OldKey);
        Assert.Equal(4095, s_library.AppKeys[1].Index);
        Assert.Equal("6F0C2B9A48E14D7FB3A5170D9E62C4F1", Hex(s_library.AppKeys[1].Key));
        Assert.Equal("D8153E7A9C604BF2A1E70B2D46C98F35", Hex(s_library.AppKeys[1].OldKey));
    }

    [Fact]
    public void Provisioner()
    {
        DescribedProvisioner provisioner = Assert.Single(s_library.Provisioners);
        Assert.Equal("Front desk tablet", provisioner.Name);
        Assert.Equal([new DescribedRange(0x0001, 0x0FFF), new DescribedRange(0x2000, 0x7FFF)], provisioner.UnicastRanges);
        Assert.Equal([new DescribedRange(0xC000, 0xC0FF)], provisioner.GroupRanges);
        Assert.Equal([new DescribedRange(0x0001, 0x00FF)], provisioner.SceneRanges);
        Assert.Equal(s_library.Nodes[0].Uuid, provisioner.Uuid);
        Assert.Equal([(ushort)0xC001, (ushort)0xFFFF], s_library.Nodes[0].KnownAddresses.Select(address => address.Address.Value));
    }

    [Fact]
    public void NodeWithEveryMember()
    {
        DescribedNode panel = s_library.Nodes[1];
        Assert.Equal("Entrance panel", panel.Name);
        Assert.Equal(new MeshAddress(0x0002), panel.Unicast);
        Assert.Equal(2, panel.ElementCount);
        Assert.Equal("C4F8137E2D6B4A90857C3E1DA0B9F264", Hex(panel.DeviceKey));
        Assert.False(panel.SecurelyProvisioned);
        Assert.Equal([new DescribedNodeKey(0, false), new DescribedNodeKey(7, true)], panel.NetKeys!);
        Assert.Equal([new DescribedNodeKey(1, false), new DescribedNodeKey(4095, true)], panel.AppKeys!);
        Assert.True(panel.ConfigComplete);
        Assert.Equal(((ushort?)0xFFFF, (ushort?)0x0102, (ushort?)0x0003, (ushort?)0x0020), (panel.Cid, panel.Pid, panel.Vid, panel.Crpl));
        Assert.Equal(new DescribedFeatures(FeatureState.Disabled, FeatureState.Enabled, FeatureState.NotSupported, FeatureState.Enabled), panel.Features);
        Assert.True(panel.SecureNetworkBeacon);
        Assert.Equal(5, panel.DefaultTtl);
        Assert.Equal(new DescribedTransmit(3, 20), panel.NetworkTransmit);
        Assert.Equal(new DescribedTransmit(1, 320), panel.RelayRetransmit);
        Assert.False(panel.Excluded);
        DescribedHeartbeatPublication heartbeat = panel.HeartbeatPublication!;
        Assert.Equal((new MeshAddress(0x0001), 64, 7, 0),
            (heartbeat.Destination.Address, heartbeat.PeriodSeconds, heartbeat.Ttl, heartbeat.NetKeyIndex));
        Assert.Equal(["relay", "lowPower"], heartbeat.OnChangeOf);
        Assert.Equal(new DescribedHeartbeatSubscription(new MeshAddress(0x0040), new MeshAddress(0x0002)), panel.HeartbeatSubscription);
    }

    [Fact]
    public void AbsentMembers_AreUnknown()
    {
        DescribedNode door = s_library.Nodes[3];
        Assert.Equal(new DescribedFeatures(FeatureState.Enabled, FeatureState.Disabled, FeatureState.Unknown, FeatureState.Unknown), door.Features);
        Assert.Equal(DescribedFeatures.Unknown, s_library.Nodes[0].Features);
        Assert.Null(door.NetworkTransmit);
        Assert.Null(door.DefaultTtl);
        Assert.Null(door.Cid);
        Assert.Null(door.HeartbeatPublication);
        Assert.Empty(door.AppKeys!);
        Assert.False(door.ConfigComplete);
    }

    [Fact]
    public void ElementsAndModels()
    {
        DescribedElement right = s_library.Nodes[1].Elements[1];
        Assert.Equal((1, new MeshAddress(0x0003), "right rocker", (ushort?)0x0101), (right.Index, right.Address, right.Name, right.Location));
        DescribedModel client = right.FindModel(0x1001)!;
        Assert.Equal(new MeshAddress(0x0003), client.Element);
        Assert.Equal([4095], client.Bind);
        DescribedPublish publish = client.Publish!;
        Assert.Equal(new MeshAddress(0xB529), publish.Address.Address);   // Mesh Protocol 1.1 §8.3.22
        Assert.Equal(Guid.ParseExact(LibraryDatabase.StairsLabel, "N"), publish.Address.Label);
        Assert.Equal((4095, 4, 60_000, 0, 50, true),
            (publish.AppKeyIndex, publish.Ttl, publish.PeriodMs, publish.RetransmitCount, publish.RetransmitIntervalMs, publish.FriendshipCredentials));

        DescribedPublish left = s_library.Nodes[1].Elements[0].FindModel(0x1001)!.Publish!;
        Assert.Equal((DescribedPublish.DefaultTtl, 0, 2, 50, false),
            (left.Ttl, left.PeriodMs, left.RetransmitCount, left.RetransmitIntervalMs, left.FriendshipCredentials));
    }

    [Fact]
    public void PublicationToTheUnassignedAddress_IsNone() => Assert.Null(s_library.Nodes[2].Elements[0].FindModel(0x1300)!.Publish);

    [Fact]
    public void VendorModel_HasItsCompanyFirst()
    {
        DescribedModel vendor = s_library.Nodes[3].Elements[0].Models[1];
        Assert.Equal(((ushort?)0xFFFF, (ushort)0x0007), (vendor.CompanyId, vendor.ModelId));
        Assert.False(vendor.IsSig(0x0007));
        Assert.Equal("0xFFFF:0x0007", vendor.ToString());
        Assert.Equal("0x1000", s_library.Nodes[3].Elements[0].Models[0].ToString());
    }

    [Fact]
    public void GroupsScenesExclusions()
    {
        Assert.Equal(["Ground floor", "Reading room", "Stairs"], s_library.Groups.Select(group => group.Name));
        Assert.Null(s_library.Groups[0].Parent);
        Assert.Equal(new MeshAddress(0xC00F), s_library.Groups[1].Parent!.Value.Address);
        Assert.Equal(new MeshAddress(0xB529), s_library.Groups[2].Address.Address);
        DescribedScene scene = Assert.Single(s_library.Scenes);
        Assert.Equal(("Evening reading", (ushort)0x000A), (scene.Name, scene.Number));
        Assert.Equal([new MeshAddress(0x0010), new MeshAddress(0x0012)], scene.Addresses);
        DescribedExclusion exclusion = Assert.Single(s_library.Exclusions);
        Assert.Equal(12u, exclusion.IvIndex);
        Assert.Equal([new MeshAddress(0x0060), new MeshAddress(0x0061)], exclusion.Addresses);
    }

    [Fact]
    public void NothingThatShowsItself_ShowsAKey()
    {
        Assert.Equal(13, LibraryDatabase.Keys.Count);   // two NetKeys, two AppKeys, an old key of each kind, seven device keys
        var shown = new List<string?>();
        shown.AddRange(s_library.NetKeys.Select(key => key.ToString()));
        shown.AddRange(s_library.AppKeys.Select(key => key.ToString()));
        shown.AddRange(s_library.Nodes.Select(node => $"{node} {node.DeviceKey}"));
        shown.Add(s_library.ToString());
        string all = string.Join('\n', shown);
        Assert.All(LibraryDatabase.Keys, key => Assert.DoesNotContain(key[..8], all, StringComparison.OrdinalIgnoreCase));
        Assert.Contains("(key, not shown)", all, StringComparison.Ordinal);
    }
}
