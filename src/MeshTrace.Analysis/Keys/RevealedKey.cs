using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Keys;

/// <summary>A key with its octets, for the user who asks to see keys.</summary>
/// <param name="Kind">"netKey", "appKey" or "deviceKey".</param>
/// <param name="Index">Key index, or null.</param>
/// <param name="Of">Node of a device key, or null.</param>
/// <param name="Octets">16 octets.</param>
/// <param name="Origin">How it came to be known.</param>
public readonly record struct RevealedKey(string Kind, int? Index, MeshAddress? Of, ReadOnlyMemory<byte> Octets, KeyOrigin Origin)
{
    /// <inheritdoc />
    public override string ToString() => $"{Kind} {Index}";
}

public sealed partial class KeyRing
{
    /// <summary>Every key with its octets. The only way by which octets of keys leave the key ring.</summary>
    public IEnumerable<RevealedKey> RevealedKeys()
    {
        foreach (Subnet subnet in _subnets)
            yield return new RevealedKey("netKey", subnet.NetKeyIndex, null, subnet.Material.Octets.ToArray(), subnet.Origin);
        foreach (AppKey key in _appKeys)
            yield return new RevealedKey("appKey", key.AppKeyIndex, null, key.Material.Octets.ToArray(), key.Origin);
        foreach (DeviceKey key in _deviceKeys)
            yield return new RevealedKey("deviceKey", null, key.Node, key.Octets, key.Origin);
    }
}
