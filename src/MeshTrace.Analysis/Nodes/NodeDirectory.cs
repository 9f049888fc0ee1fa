using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Nodes;

/// <summary>Which node an element belongs to: by the description, by composition data heard, else each address stands for itself.</summary>
public sealed class NodeDirectory(NetworkDescription? description)
{
    private readonly SortedDictionary<ushort, int> _heardElements = [];

    public NetworkDescription? Description => description;

    /// <summary>Primary address of the node that has this element.</summary>
    public MeshAddress NodeOf(MeshAddress element)
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
            _heardElements[node.Value] = elements;
    }
}
