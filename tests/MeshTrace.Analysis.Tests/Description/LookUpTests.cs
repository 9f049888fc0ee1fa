using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Description;

public sealed class LookUpTests
{
    private static readonly NetworkDescription s_library = LibraryDatabase.Read();

    private static string[] Subscribers(int dst, params ushort[] models) => Subscribers(s_library, dst, models);

    private static string[] Subscribers(NetworkDescription description, int dst, params ushort[] models) =>
        [.. description.SubscribersOf(new MeshAddress((ushort)dst), models).Select(address => address.ToString())];

    [Theory]
    [InlineData(0x0002, "Entrance panel")]
    [InlineData(0x0003, "Entrance panel")]
    [InlineData(0x0011, "Reading room window")]
    [InlineData(0x0012, "Reading room door")]
    [InlineData(0x0013, null)]
    [InlineData(0x0004, null)]
    [InlineData(0x0000, null)]
    [InlineData(0xC001, null)]
    public void NodeAt_FindsByAnyElement(int address, string? name) => Assert.Equal(name, s_library.NodeAt(new MeshAddress((ushort)address))?.Name);

    [Theory]
    [InlineData(0x0002, "Entrance panel")]
    [InlineData(0x0003, "Entrance panel, right rocker")]
    [InlineData(0x0011, "Reading room window, element 2")]
    [InlineData(0xC001, "Reading room")]
    [InlineData(0xB529, "Stairs")]
    [InlineData(0xFFFF, "all nodes")]
    [InlineData(0xFFFC, "all proxies")]
    [InlineData(0x0777, "0x0777")]
    [InlineData(0xC777, "0xC777")]
    [InlineData(0x0000, "0x0000")]
    public void NameOf(int address, string name) => Assert.Equal(name, s_library.NameOf(new MeshAddress((ushort)address)));

    [Fact]
    public void NodeWith_FindsByDeviceUuid() =>
        Assert.Equal("Stairs lamp", s_library.NodeWith(Guid.Parse("54f91c07-4d5e-4f60-a172-8d9ea0b1c2d3"))?.Name);

    [Fact]
    public void Labels_AreListedOnce()
    {
        Guid label = Guid.ParseExact(LibraryDatabase.StairsLabel, "N");
        Assert.Equal([label], s_library.LabelUuids);
        Assert.Equal([label], s_library.LabelsOf(new MeshAddress(0xB529)));
        Assert.Empty(s_library.LabelsOf(new MeshAddress(0x8000)));
    }

    [Fact]
    public void Group_ReachesElementsThatSubscribeOnThatModel()
    {
        Assert.Equal(["0x0010", "0x0012"], Subscribers(0xC001, 0x1000));             // not 0x0050: excluded
        Assert.Equal(["0x0011"], Subscribers(0xC001, 0x1002));
        Assert.Equal(["0x0010", "0x0011", "0x0012"], Subscribers(0xC001, 0x1002, 0x1000));
        Assert.Equal(["0x0010"], Subscribers(0xC00F, 0x1000, 0x1300));
        Assert.Empty(Subscribers(0xC001, 0x1307));
        Assert.Empty(Subscribers(0xC001, 0x0007));                                   // the vendor model 0xFFFF:0x0007 is no SIG model 0x0007
        Assert.Empty(Subscribers(0xC0AA, 0x1000));
        Assert.Empty(Subscribers(0xC001));
    }

    [Fact]
    public void VirtualAddress_ReachesByItsSixteenBits() => Assert.Equal(["0x0020"], Subscribers(0xB529, 0x1000));

    // Mesh Protocol 1.1 §3.4.2.4: the primary elements of nodes that have the feature enabled, without any subscription.
    [Fact]
    public void FixedGroups_ReachPrimaryElementsByFeature()
    {
        Assert.Equal(["0x0010", "0x0012", "0x0020"], Subscribers(0xFFFF, 0x1000));
        Assert.Equal(["0x0010", "0x0012", "0x0020"], Subscribers(0xFFFE, 0x1000));   // 0x0020 is no relay but subscribes to all-relays
        Assert.Equal(["0x0010"], Subscribers(0xFFFD, 0x1000));
        Assert.Equal(["0x0010"], Subscribers(0xFFFC, 0x1000));
        Assert.Equal(["0x0002", "0x0040"], Subscribers(0xFFFF, 0x0000));
        Assert.Empty(Subscribers(0xFFFF, 0x1002));                                   // only on a second element
        Assert.Empty(Subscribers(0xFFFB, 0x1000));
    }

    [Fact]
    public void Unicast_ReachesThatElementIfItHasTheModel()
    {
        Assert.Equal(["0x0010"], Subscribers(0x0010, 0x1000));
        Assert.Empty(Subscribers(0x0011, 0x1000));
        Assert.Equal(["0x0011"], Subscribers(0x0011, 0x1002));
        Assert.Empty(Subscribers(0x0077, 0x1000));
        Assert.Empty(Subscribers(0x0050, 0x1000));                                   // excluded
    }

    [Fact]
    public void Unicast_OfANodeNeverComposed_ReachesIt()
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root => root.At("nodes.4")["elements"] = new System.Text.Json.Nodes.JsonArray());
        Assert.Equal(["0x0020"], Subscribers(description, 0x0020, 0x1000));
        Assert.Equal("Stairs lamp", description.NameOf(new MeshAddress(0x0020)));
        Assert.Null(description.ElementAt(new MeshAddress(0x0020)));
    }

    [Fact]
    public void ContestedAddress_GivesBothNodes()
    {
        NetworkDescription description = LibraryDatabase.ReadWith(root => root.At("nodes.3")["unicastAddress"] = "0011");
        MeshAddress contested = Assert.Single(description.ContestedAddresses);
        Assert.Equal(new MeshAddress(0x0011), contested);
        Assert.Equal(["Reading room window", "Reading room door"], description.NodesAt(contested).Select(node => node.Name));
        Assert.Equal("Reading room window", description.NodeAt(contested)?.Name);
        Assert.Equal(["0x0011"], Subscribers(description, 0x0011, 0x1000));
        Assert.Single(description.Repairs, line => line.Contains("$.nodes[3].unicastAddress", StringComparison.Ordinal));
    }

    [Fact]
    public void EmptyDescription_FindsNothing()
    {
        var empty = new NetworkDescription();
        Assert.Null(empty.NodeAt(new MeshAddress(1)));
        Assert.Empty(empty.SubscribersOf(MeshAddress.AllNodes, [0x1000]));
        Assert.Empty(empty.LabelUuids);
        Assert.Equal("0x0001", empty.NameOf(new MeshAddress(1)));
    }
}
