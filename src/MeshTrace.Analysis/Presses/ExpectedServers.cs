using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Presses;

/// <summary>Which elements should act on a request: by the description, and by the Config messages heard up to its time.</summary>
internal sealed class ExpectedServers(NetworkDescription? description, SubscriptionsHeard heard)
{
    private readonly Dictionary<(ushort Dst, ushort Model), IReadOnlyList<MeshAddress>> _described = [];

    /// <summary>Element addresses, lowest first; null where nobody can know.</summary>
    /// <param name="dst">Destination of the request.</param>
    /// <param name="serverModels">SIG models that receive it as servers.</param>
    /// <param name="timeNs">Time of the request.</param>
    public IReadOnlyList<MeshAddress>? At(MeshAddress dst, IReadOnlyList<ushort> serverModels, long timeNs)
    {
        if (description is null && dst.IsUnicast)
            return [dst];
        if (description is null && dst.IsFixedGroup)
            return null;
        IReadOnlyList<MeshAddress> described = description is null ? [] : Described(dst, serverModels);
        if (dst.IsUnicast || dst.IsFixedGroup || !heard.Any)
            return description is null ? null : described;
        var elements = new SortedSet<ushort>(described.Select(element => element.Value));
        bool told = description is not null;
        foreach (SubscriptionChange change in heard.UpTo(timeNs))
        {
            if (!serverModels.Contains((ushort)(change.Model & 0xFFFF)) || change.Model > 0xFFFF)
                continue;
            switch (change.Action)
            {
                case SubscriptionAction.Add when change.Address == dst:
                    elements.Add(change.Element.Value);
                    told = true;
                    break;
                case SubscriptionAction.Overwrite:
                    if (change.Address == dst)
                        elements.Add(change.Element.Value);
                    else
                        elements.Remove(change.Element.Value);
                    told = true;
                    break;
                case SubscriptionAction.DeleteAll:
                case SubscriptionAction.Delete when change.Address == dst:
                    elements.Remove(change.Element.Value);
                    break;
            }
        }
        return told ? [.. elements.Select(element => new MeshAddress(element))] : null;
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
