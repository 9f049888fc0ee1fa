using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Keys;

/// <summary>Puts the keys of a description, those given by hand and those known from before into the key ring.</summary>
internal static class GivenKeys
{
    public static void AddTo(KeyRing keys, AnalysisSettings settings)
    {
        if (settings.Description is { } description)
            AddDescribed(keys, description);
        if (settings.Keys is { } given)
            AddArguments(keys, given);
        settings.CarriedKeys?.AddTo(keys);
    }

    private static string? NameOf(string? name) => SafeText.Strip(name) is { Length: > 0 } shown ? shown : null;

    private static void AddDescribed(KeyRing keys, NetworkDescription description)
    {
        foreach (DescribedNetKey key in description.NetKeys)
        {
            keys.AddNetKey(key.Key.Octets, key.Index, KeyOrigin.Given, NameOf(key.Name));
            if (key.OldKey is { } old)
                keys.AddNetKey(old.Octets, key.Index, KeyOrigin.Given, NameOf(key.Name), isOldKey: true);
        }
        foreach (DescribedAppKey key in description.AppKeys)
        {
            keys.AddAppKey(key.Key.Octets, key.Index, key.BoundNetKey, KeyOrigin.Given, NameOf(key.Name));
            if (key.OldKey is { } old)
                keys.AddAppKey(old.Octets, key.Index, key.BoundNetKey, KeyOrigin.Given, NameOf(key.Name), isOldKey: true);
        }
        foreach (DescribedNode node in description.Nodes)
            if (node.DeviceKey is { } key)
                keys.AddDeviceKey(node.Unicast, key.Octets, KeyOrigin.Given);
        foreach (Guid label in description.LabelUuids)
            keys.AddLabel(label);
    }

    private static void AddArguments(KeyRing keys, KeyArguments given)
    {
        foreach (TypedKey key in given.NetKeys)
            keys.AddNetKey(key.Key.Octets, key.Index, KeyOrigin.Given);
        foreach (TypedKey key in given.AppKeys)
            keys.AddAppKey(key.Key.Octets, key.Index, boundNetKey: null, KeyOrigin.Given);
        foreach (TypedDeviceKey key in given.DeviceKeys)
            keys.AddDeviceKey(key.Node, key.Key.Octets, KeyOrigin.Given);
        foreach (Guid label in given.Labels)
            keys.AddLabel(label);
    }
}
