using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>Look-ups. The tables behind them are made at the first one and shared by all threads.</summary>
public sealed partial class NetworkDescription
{
    private readonly Lazy<DescriptionIndex> _index;

    public NetworkDescription() => _index = new Lazy<DescriptionIndex>(() => new DescriptionIndex(this));

    private DescriptionIndex Index => _index.Value;

    /// <summary>The node that has an element with this unicast address, or null; the first of the file where several claim it.</summary>
    public DescribedNode? NodeAt(MeshAddress element) => Index.FirstNodeAt(element);

    /// <summary>All nodes that claim an element address: none, one, or several where the description contradicts itself.</summary>
    public IReadOnlyList<DescribedNode> NodesAt(MeshAddress element) => Index.NodesAt(element);

    /// <summary>The element with this unicast address, or null; also null where its node's composition was never read.</summary>
    public DescribedElement? ElementAt(MeshAddress element) => NodeAt(element)?.ElementAt(element);

    /// <summary>The node with a device UUID, or null.</summary>
    public DescribedNode? NodeWith(Guid deviceUuid) => Index.NodeWith(deviceUuid);

    /// <summary>The group or label of a 16-bit group or virtual address, or null.</summary>
    public DescribedGroup? GroupAt(MeshAddress address) => Index.GroupAt(address);

    /// <summary>The label UUIDs that give a virtual address: several may (Mesh Protocol 1.1 §3.4.2.3).</summary>
    public IReadOnlyList<Guid> LabelsOf(MeshAddress virtualAddress) => Index.LabelsOf(virtualAddress);

    /// <summary>All models that name a group or virtual address in their subscription list, in the order of the file, excluded nodes left out.</summary>
    public IReadOnlyList<DescribedModel> ModelsSubscribedTo(MeshAddress address) => Index.ModelsSubscribedTo(address);

    /// <summary>
    /// The elements that are meant to act on a message to <paramref name="dst"/>: those with one of the models on which that model
    /// receives <paramref name="dst"/>. Nodes marked as excluded are left out.
    /// </summary>
    /// <param name="dst">
    /// Unicast: that element, also where the composition of its node was never read. Group or virtual: by the subscription lists.
    /// The fixed groups reach primary elements by feature without any subscription (Mesh Protocol 1.1 §3.4.2.4): 0xFFFF all nodes,
    /// 0xFFFE nodes whose relay feature is enabled, 0xFFFD friends, 0xFFFC proxies.
    /// </param>
    /// <param name="serverModels">SIG models that receive the message as servers; none gives no element.</param>
    /// <returns>Element addresses, lowest first, each once. Bindings are not considered here.</returns>
    public IReadOnlyList<MeshAddress> SubscribersOf(MeshAddress dst, IReadOnlyList<ushort> serverModels) => Index.SubscribersOf(dst, serverModels);

    /// <summary>A name to show, never empty: of node and element, of group or label, or the address itself where there is none.</summary>
    public string NameOf(MeshAddress address) => FindName(address) ?? address.ToString();

    /// <summary>As <see cref="NameOf"/>, but null where the description gives no name.</summary>
    public string? FindName(MeshAddress address) => address.IsUnicast ? FindElementName(address) : FindGroupName(address);

    private string? FindElementName(MeshAddress address)
    {
        if (NodeAt(address) is not { } node)
            return null;
        string nodeName = SafeText.Strip(node.Name);
        string elementName = SafeText.Strip(node.ElementAt(address)?.Name);
        if (nodeName.Length == 0)
            return elementName.Length == 0 ? null : elementName;
        if (address == node.Unicast)   // the primary element speaks for the node, whatever its own name
            return nodeName;
        return elementName.Length == 0
            ? $"{nodeName}, element {address.Value - node.Unicast.Value + 1}"
            : $"{nodeName}, {elementName}";
    }

    private string? FindGroupName(MeshAddress address)
    {
        string name = SafeText.Strip(GroupAt(address)?.Name);
        if (name.Length > 0)
            return name;
        if (address == MeshAddress.AllNodes)
            return "all nodes";
        if (address == MeshAddress.AllRelays)
            return "all relays";
        if (address == MeshAddress.AllFriends)
            return "all friends";
        if (address == MeshAddress.AllProxies)
            return "all proxies";
        return address == MeshAddress.AllDirectedForwardingNodes ? "all directed forwarding nodes" : null;
    }
}
