using System.Buffers.Binary;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Other mesh addresses for those of a network, one for one and kind for kind: unicast stays unicast, group stays group, a virtual address is that of another
/// label. Elements of a node stay behind each other. No pseudonym is an address that the network itself uses, as long as there are others.
/// </summary>
/// <remarks>Fixed group addresses and those reserved for future use, 0xFF00 to 0xFFFF, name no place and stay (Mesh Protocol 1.1 §3.4.2.4).</remarks>
internal sealed class AddressPseudonyms
{
    private const ushort FirstUnicast = 0x0100, LastUnicast = 0x7FFF, FirstGroup = 0xC100, LowestGroup = 0xC000, LastGroup = 0xFEFF;
    private const int MostAttempts = byte.MaxValue;

    private readonly PseudonymGenerator _generator;
    private readonly HashSet<ushort> _originals, _given = [];
    private readonly Dictionary<ushort, ushort> _pseudonyms = [];
    private readonly Dictionary<Guid, Guid> _labels = [];
    private int _nextUnicast = FirstUnicast, _nextGroup = FirstGroup;

    /// <param name="generator">Makes their order.</param>
    /// <param name="addresses">Every address that the network is known to use.</param>
    /// <param name="nodes">First address and number of elements of every node known.</param>
    /// <param name="labels">Every label known.</param>
    public AddressPseudonyms(PseudonymGenerator generator, IReadOnlySet<ushort> addresses, IEnumerable<(ushort First, int Count)> nodes, IEnumerable<Guid> labels)
    {
        _generator = generator;
        _originals = [.. addresses];
        List<(ushort First, int Count)> blocks = Merge(nodes);
        foreach ((ushort first, int count) in blocks)
            for (int i = 0; i < count; i++)
                _originals.Add((ushort)(first + i));
        foreach (Guid label in InOrder(labels, label => label.ToByteArray(bigEndian: true)))
            Of(label);
        foreach ((ushort first, int count) in InOrder(blocks, block => Octets(block.First)))
            Give(first, count);
        foreach (ushort address in InOrder(_originals, Octets))
            Of(new MeshAddress(address));
    }

    /// <summary>The pseudonym of an address; one that was not known gets one now.</summary>
    public MeshAddress Of(MeshAddress address)
    {
        if (address == MeshAddress.Unassigned || address.Value > LastGroup)
            return address;
        if (!_pseudonyms.TryGetValue(address.Value, out ushort pseudonym))
        {
            if (address.IsVirtual)
                Label(Octets(address.Value), out pseudonym);
            else
                pseudonym = Give(address.Value, 1);
            _pseudonyms[address.Value] = pseudonym;
        }
        return new MeshAddress(pseudonym);
    }

    /// <summary>The pseudonym of a label; its virtual address is that of the label's own, unless another label took it first.</summary>
    public Guid Of(Guid label)
    {
        if (!_labels.TryGetValue(label, out Guid pseudonym))
        {
            Span<byte> octets = stackalloc byte[16];
            label.TryWriteBytes(octets, bigEndian: true, out _);
            pseudonym = _labels[label] = Label(octets, out ushort address);
            _pseudonyms.TryAdd(VirtualAddress.Of(octets).Value, address);
        }
        return pseudonym;
    }

    private Guid Label(ReadOnlySpan<byte> original, out ushort address)
    {
        Span<byte> octets = stackalloc byte[16];
        byte attempt = 0;
        do
        {
            _generator.Fill(PseudonymOf.Label, original, octets, attempt);
            address = VirtualAddress.Of(octets).Value;
        }
        while ((_originals.Contains(address) || !_given.Add(address)) && ++attempt < MostAttempts);
        return new Guid(octets, bigEndian: true);
    }

    /// <summary>Gives addresses that follow each other.</summary>
    private ushort Give(ushort original, int count)
    {
        bool unicast = original <= LastUnicast;
        (ushort lowest, ushort last) = unicast ? ((ushort)1, LastUnicast) : (LowestGroup, LastGroup);
        ref int next = ref (unicast ? ref _nextUnicast : ref _nextGroup);
        int first = Free(next, count, lowest, last, _originals) ?? Free(lowest, count, lowest, last, null) ?? original;
        next = first + count;
        for (int i = 0; i < count; i++)
        {
            _given.Add((ushort)(first + i));
            _pseudonyms[(ushort)(original + i)] = (ushort)(first + i);
        }
        return (ushort)first;
    }

    /// <summary>First of so many addresses that are not given and not among those to be avoided, from a place on and then from the lowest; null where there are none.</summary>
    private int? Free(int from, int count, int lowest, int last, HashSet<ushort>? avoided)
    {
        int range = last - lowest + 1, run = 0;
        for (int step = 0; step < range + count; step++)
        {
            int address = lowest + ((from - lowest + step) % range);
            bool free = !_given.Contains((ushort)address) && avoided?.Contains((ushort)address) != true;
            run = !free ? 0 : address == lowest ? 1 : run + 1;
            if (run == count)
                return address - count + 1;
        }
        return null;
    }

    /// <summary>Nodes whose addresses overlap, because a description contradicts itself, become one block.</summary>
    private static List<(ushort First, int Count)> Merge(IEnumerable<(ushort First, int Count)> nodes)
    {
        var merged = new List<(ushort First, int Count)>();
        foreach ((ushort first, int count) in nodes.Where(node => node.First is > 0 and <= LastUnicast).Select(node => (node.First, Math.Min(node.Count, LastUnicast + 1 - node.First))).Order())
        {
            if (merged.Count > 0 && first < merged[^1].First + merged[^1].Count)
                merged[^1] = (merged[^1].First, Math.Max(merged[^1].Count, first + count - merged[^1].First));
            else
                merged.Add((first, count));
        }
        return merged;
    }

    /// <summary>An order that says nothing of the network.</summary>
    private List<T> InOrder<T>(IEnumerable<T> items, Func<T, byte[]> octets) => items.Select(item =>
    {
        Span<byte> order = stackalloc byte[8];
        _generator.Fill(PseudonymOf.MeshAddress, octets(item), order);
        return (Order: BinaryPrimitives.ReadUInt64BigEndian(order), Item: item);
    }).OrderBy(pair => pair.Order).Select(pair => pair.Item).ToList();

    private static byte[] Octets(ushort address) => [(byte)(address >> 8), (byte)(address & 0xFF)];
}
