using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>The tables behind the look-ups of a <see cref="NetworkDescription"/>: made once, in time linear to the description.</summary>
internal sealed class DescriptionIndex
{
    private readonly Dictionary<MeshAddress, DescribedNode> _nodes = [];
    private readonly Dictionary<MeshAddress, List<DescribedNode>> _contested = [];
    private readonly Dictionary<Guid, DescribedNode> _nodesByUuid = [];
    private readonly Dictionary<MeshAddress, DescribedGroup> _groups = [];
    private readonly Dictionary<MeshAddress, List<DescribedModel>> _subscriptions = [];
    private readonly Dictionary<MeshAddress, List<Guid>> _labelsByAddress = [];
    private readonly HashSet<Guid> _labels = [];
    private readonly Dictionary<MeshAddress, List<DescribedElement>> _fixedGroups = new()
    {
        [MeshAddress.AllNodes] = [],
        [MeshAddress.AllRelays] = [],
        [MeshAddress.AllFriends] = [],
        [MeshAddress.AllProxies] = [],
    };

    public DescriptionIndex(NetworkDescription description)
    {
        foreach (DescribedGroup group in description.Groups)
        {
            _groups.TryAdd(group.Address.Address, group);
            AddLabel(group.Address);
        }
        foreach (DescribedNode node in description.Nodes)
            AddNode(node);
        ContestedAddresses = [.. _contested.Keys.Order()];
    }

    public IReadOnlyCollection<Guid> Labels => _labels;
    public IReadOnlyList<MeshAddress> ContestedAddresses { get; }

    public DescribedNode? FirstNodeAt(MeshAddress element) => _nodes.GetValueOrDefault(element);

    public IReadOnlyList<DescribedNode> NodesAt(MeshAddress element)
    {
        if (_contested.TryGetValue(element, out List<DescribedNode>? several))
            return several;
        return _nodes.TryGetValue(element, out DescribedNode? node) ? [node] : [];
    }

    public DescribedNode? NodeWith(Guid deviceUuid) => _nodesByUuid.GetValueOrDefault(deviceUuid);
    public DescribedGroup? GroupAt(MeshAddress address) => _groups.GetValueOrDefault(address);
    public IReadOnlyList<Guid> LabelsOf(MeshAddress address) => _labelsByAddress.TryGetValue(address, out List<Guid>? labels) ? labels : [];

    public IReadOnlyList<DescribedModel> ModelsSubscribedTo(MeshAddress address) =>
        _subscriptions.TryGetValue(address, out List<DescribedModel>? models) ? models : [];

    public IReadOnlyList<MeshAddress> SubscribersOf(MeshAddress dst, IReadOnlyList<ushort> serverModels)
    {
        if (serverModels.Count == 0)
            return [];
        if (dst.IsUnicast)
            return OwnersOf(dst, serverModels);

        var found = new HashSet<MeshAddress>();
        foreach (DescribedModel model in ModelsSubscribedTo(dst))
        {
            if (IsOneOf(model, serverModels))
                found.Add(model.Element);
        }
        if (_fixedGroups.TryGetValue(dst, out List<DescribedElement>? primaries))
        {
            foreach (DescribedElement element in primaries)
            {
                if (HasOneOf(element, serverModels))
                    found.Add(element.Address);
            }
        }
        return [.. found.Order()];
    }

    private MeshAddress[] OwnersOf(MeshAddress dst, IReadOnlyList<ushort> serverModels)
    {
        foreach (DescribedNode node in NodesAt(dst))
        {
            if (node.Excluded)
                continue;
            if (node.Elements.Count == 0 || (node.ElementAt(dst) is { } element && HasOneOf(element, serverModels)))
                return [dst];
        }
        return [];
    }

    private static bool HasOneOf(DescribedElement element, IReadOnlyList<ushort> serverModels)
    {
        foreach (DescribedModel model in element.Models)
        {
            if (IsOneOf(model, serverModels))
                return true;
        }
        return false;
    }

    private static bool IsOneOf(DescribedModel model, IReadOnlyList<ushort> serverModels)
    {
        if (model.CompanyId is not null)
            return false;
        for (int i = 0; i < serverModels.Count; i++)
        {
            if (serverModels[i] == model.ModelId)
                return true;
        }
        return false;
    }

    private void AddNode(DescribedNode node)
    {
        if (node.Uuid is { } uuid)
            _nodesByUuid.TryAdd(uuid, node);
        if (node.Elements.All(element => element.Address != node.Unicast))
            Claim(node.Unicast, node);
        foreach (DescribedElement element in node.Elements)
        {
            Claim(element.Address, node);
            foreach (DescribedModel model in element.Models)
                AddModel(model, node.Excluded);
            if (element.Address == node.Unicast && !node.Excluded)
                AddToFixedGroups(element, node.Features);
        }
    }

    private void AddModel(DescribedModel model, bool excluded)
    {
        if (model.Publish is { } publish)
            AddLabel(publish.Address);
        foreach (DescribedAddress subscribed in model.Subscribe)
        {
            AddLabel(subscribed);
            if (!excluded)
                Entry(_subscriptions, subscribed.Address).Add(model);
        }
    }

    private void AddToFixedGroups(DescribedElement primary, DescribedFeatures features)
    {
        _fixedGroups[MeshAddress.AllNodes].Add(primary);
        if (features.Relay == FeatureState.Enabled)
            _fixedGroups[MeshAddress.AllRelays].Add(primary);
        if (features.Friend == FeatureState.Enabled)
            _fixedGroups[MeshAddress.AllFriends].Add(primary);
        if (features.Proxy == FeatureState.Enabled)
            _fixedGroups[MeshAddress.AllProxies].Add(primary);
    }

    private void Claim(MeshAddress address, DescribedNode node)
    {
        if (_nodes.TryAdd(address, node))
            return;
        List<DescribedNode> claims = Entry(_contested, address);
        if (claims.Count == 0)
            claims.Add(_nodes[address]);
        claims.Add(node);
    }

    private void AddLabel(DescribedAddress address)
    {
        if (address.Label is { } label && _labels.Add(label))
            Entry(_labelsByAddress, address.Address).Add(label);
    }

    private static List<T> Entry<T>(Dictionary<MeshAddress, List<T>> table, MeshAddress address)
    {
        if (!table.TryGetValue(address, out List<T>? entry))
            table[address] = entry = [];
        return entry;
    }
}
