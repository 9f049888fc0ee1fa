using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Tests.Redaction;

/// <summary>Pseudonyms of addresses: one for one, kind for kind.</summary>
public sealed class AddressPseudonymsTests
{
    private static readonly Guid Label = new("5a651e0f-77a1-4b6c-9d20-c3f4e5a6b7c8");

    [Fact]
    public void Elements_StayBehindEachOther_AndNoPseudonymIsAnAddressOfTheNetwork()
    {
        (ushort, int)[] nodes = [(0x0001, 1), (0x0002, 3), (0x0100, 4), (0x0104, 2)];
        AddressPseudonyms pseudonyms = Make(nodes, 0xC000, 0xC100, 0xC0F0);
        ushort[] originals = [.. nodes.SelectMany(node => Enumerable.Range(node.Item1, node.Item2)).Select(address => (ushort)address), 0xC000, 0xC100, 0xC0F0];
        ushort[] given = [.. originals.Select(address => pseudonyms.Of(new MeshAddress(address)).Value)];
        Assert.Equal(originals.Length, given.Distinct().Count());
        Assert.Empty(originals.Intersect(given));
        foreach ((ushort first, int count) in nodes)
            for (int i = 1; i < count; i++)
                Assert.Equal(Of(pseudonyms, first) + i, Of(pseudonyms, (ushort)(first + i)));
        Assert.All(originals, address => Assert.Equal(new MeshAddress(address).Kind, pseudonyms.Of(new MeshAddress(address)).Kind));
    }

    // Mesh Protocol 1.1 §3.4.2.4: fixed group addresses mean the same in every network.
    [Theory, InlineData(0x0000), InlineData(0xFF00), InlineData(0xFFFB), InlineData(0xFFFD), InlineData(0xFFFF)]
    public void FixedAddresses_Stay(int address) => Assert.Equal(address, Of(Make([(0x0001, 1)]), (ushort)address));

    [Fact]
    public void Label_GetsAnotherLabelWithItsVirtualAddress()
    {
        AddressPseudonyms pseudonyms = Make([], [Label]);
        Guid other = pseudonyms.Of(Label);
        Assert.NotEqual(Label, other);
        MeshAddress real = VirtualAddress.Of(Label.ToByteArray(bigEndian: true));
        Assert.Equal(VirtualAddress.Of(other.ToByteArray(bigEndian: true)), pseudonyms.Of(real));
        Assert.NotEqual(real, pseudonyms.Of(real));
        Assert.True(pseudonyms.Of(new MeshAddress(0x8123)).IsVirtual);      // of no label that is known
    }

    [Fact]
    public void SameKey_GivesTheSame_AnotherKeyOthers()
    {
        (ushort, int)[] nodes = [.. Enumerable.Range(1, 40).Select(i => ((ushort)(i * 8), 2))];
        ushort[] Order(byte key) => [.. nodes.Select(node => Of(Make(nodes, key), node.Item1))];
        Assert.Equal(Order(1), Order(1));
        Assert.NotEqual(Order(1), Order(2));
    }

    [Fact]
    public void FullAddressSpace_StaysOneForOne()
    {
        AddressPseudonyms pseudonyms = Make([.. Enumerable.Range(0, 3276).Select(i => ((ushort)(1 + (i * 10)), 10))]);
        Assert.Equal(32_760, Enumerable.Range(1, 32_760).Select(address => Of(pseudonyms, (ushort)address)).Distinct().Count());
    }

    [Fact]
    public void AddressesMetLater_AndNodesThatOverlap_StayOneForOne()
    {
        AddressPseudonyms pseudonyms = Make([(0x0010, 4), (0x0012, 5), (0x0010, 1)]);
        Assert.Equal(Of(pseudonyms, 0x0010) + 6, Of(pseudonyms, 0x0016));
        ushort[] given = [.. Enumerable.Range(1, 400).Select(address => Of(pseudonyms, (ushort)address))];
        Assert.Equal(given.Length, given.Distinct().Count());
        Assert.Equal(Of(pseudonyms, 0x0333), Of(pseudonyms, 0x0333));
    }

    private static ushort Of(AddressPseudonyms pseudonyms, ushort address) => pseudonyms.Of(new MeshAddress(address)).Value;

    private static AddressPseudonyms Make((ushort, int)[] nodes, params ushort[] others) => new(Generator(1), others.ToHashSet(), nodes, []);

    private static AddressPseudonyms Make((ushort, int)[] nodes, Guid[] labels) => new(Generator(1), new HashSet<ushort>(), nodes, labels);

    private static AddressPseudonyms Make((ushort, int)[] nodes, byte key) => new(Generator(key), new HashSet<ushort>(), nodes, []);

    private static PseudonymGenerator Generator(byte key)
    {
        var keys = new KeyRing();
        keys.AddNetKey([.. Enumerable.Repeat(key, 16)], 0, KeyOrigin.Given);
        return PseudonymGenerator.For(keys);
    }
}
