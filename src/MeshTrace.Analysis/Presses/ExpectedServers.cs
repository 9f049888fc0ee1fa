using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Presses;

/// <summary>Which elements should act on a request: by the description, and by the Config messages heard up to its time.</summary>
internal sealed class ExpectedServers(NetworkDescription? description, ConfigurationHeard heard)
{
    private readonly Dictionary<(ushort Dst, ushort Model), IReadOnlyList<MeshAddress>> _described = [];

    /// <summary>A description that knows no node's elements, as one of keys alone, cannot tell who listens.</summary>
    private readonly bool _tells = description?.Nodes.Any(node => node.Elements.Count > 0) == true;

    /// <summary>Changes of subscription lists that were not refused, in the order heard. One counts from its request on.</summary>
    private readonly ConfigChange[] _changes = [.. heard.Changes.Where(change => change.Standing != ConfigStanding.Refused && change.Kind is ConfigKind.SubscriptionAdded
        or ConfigKind.SubscriptionDeleted or ConfigKind.SubscriptionsCleared or ConfigKind.SubscriptionOverwritten or ConfigKind.SubscriptionList)];

    /// <summary>Element addresses, lowest first; null where nobody can know.</summary>
    /// <param name="dst">Destination of the request.</param>
    /// <param name="serverModels">SIG models that receive it as servers.</param>
    /// <param name="timeNs">Time of the request.</param>
    public IReadOnlyList<MeshAddress>? At(MeshAddress dst, IReadOnlyList<ushort> serverModels, long timeNs)
    {
        // Without a description the Config messages heard tell of some subscribers, never that there is no other.
        if (!_tells)
            return dst.IsUnicast ? [dst] : null;
        IReadOnlyList<MeshAddress> described = Described(dst, serverModels);
        if (dst.IsUnicast || dst.IsFixedGroup || _changes.Length == 0)
            return described;
        var elements = new SortedSet<ushort>(described.Select(element => element.Value));
        foreach (ConfigChange change in _changes)
        {
            if (change.TimeNs > timeNs || change.Model is not { Model.Company: null } model || !serverModels.Contains(model.Model.Number))
                continue;
            bool named = change.Address.Address == dst;
            switch (change.Kind)
            {
                case ConfigKind.SubscriptionAdded when named:
                    elements.Add(model.Element.Value);
                    break;
                case ConfigKind.SubscriptionOverwritten or ConfigKind.SubscriptionList:
                    if (named || change.Addresses.Contains(dst))
                        elements.Add(model.Element.Value);
                    else
                        elements.Remove(model.Element.Value);
                    break;
                case ConfigKind.SubscriptionsCleared:
                case ConfigKind.SubscriptionDeleted when named:
                    elements.Remove(model.Element.Value);
                    break;
            }
        }
        return [.. elements.Select(element => new MeshAddress(element))];
    }

    private IReadOnlyList<MeshAddress> Described(MeshAddress dst, IReadOnlyList<ushort> serverModels)
    {
        if (serverModels.Count == 0)
            return [];
        var key = (dst.Value, serverModels[0]);
        if (!_described.TryGetValue(key, out IReadOnlyList<MeshAddress>? elements))
            _described.Add(key, elements = description!.SubscribersOf(dst, serverModels));
        return elements;
    }
}
