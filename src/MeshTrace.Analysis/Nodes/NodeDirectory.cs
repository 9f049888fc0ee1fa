using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Nodes;

/// <summary>Which node an element belongs to: by the description, by composition data heard, else each address stands for itself.</summary>
public sealed class NodeDirectory(NetworkDescription? description)
{
    private const int PageBits = 8;

    private readonly SortedDictionary<ushort, int> _heardElements = [];

    /// <summary>Answers given, by address, unassigned where none was: the question comes for every flood and every message.</summary>
    private readonly ushort[]?[] _known = new ushort[]?[1 << (16 - PageBits)];

    public NetworkDescription? Description => description;

    /// <summary>Primary address of the node that has this element.</summary>
    public MeshAddress NodeOf(MeshAddress element)
    {
        ushort[] page = _known[element.Value >> PageBits] ??= new ushort[1 << PageBits];
        ref ushort known = ref page[element.Value & ((1 << PageBits) - 1)];
        if (known == MeshAddress.Unassigned.Value)
            known = Find(element).Value;
        return new MeshAddress(known);
    }

    private MeshAddress Find(MeshAddress element)
    {
        if (description?.NodeAt(element) is { } node)
            return node.Unicast;
        foreach ((ushort unicast, int elements) in _heardElements)
        {
            if (unicast > element.Value)
                break;
            if (element.Value < unicast + elements)
                return new MeshAddress(unicast);
        }
        return element;
    }

    /// <summary>Number of elements of a node, or null where nobody said.</summary>
    public int? ElementsOf(MeshAddress node) =>
        description?.NodeAt(node)?.ElementCount ?? (_heardElements.TryGetValue(node.Value, out int heard) ? heard : null);

    /// <summary>Name to show without control characters, or null.</summary>
    public string? NameOf(MeshAddress address) => description?.FindName(address);

    /// <summary>A composition or a provisioning heard on the air told the number of elements.</summary>
    internal void Hear(MeshAddress node, int elements)
    {
        if (node.IsUnicast && elements is > 0 and <= byte.MaxValue)
        {
            _heardElements[node.Value] = elements;
            Array.Clear(_known);
        }
    }
}
