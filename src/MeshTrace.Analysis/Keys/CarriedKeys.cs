using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Keys;

/// <summary>
/// What a history knew of keys, handed on to one that begins later: keys and labels, given or learnt, security material of friendships, IV indexes. It shows no octets.
/// </summary>
public sealed class CarriedKeys
{
    private readonly KeyRing _from;

    private CarriedKeys(KeyRing from) => _from = from;

    public static CarriedKeys Of(KeyRing keys)
    {
        ArgumentNullException.ThrowIfNull(keys);
        return new CarriedKeys(keys);
    }

    internal void AddTo(KeyRing keys)
    {
        var rows = new int[_from.Subnets.Count];
        for (int row = 0; row < rows.Length; row++)
        {
            Subnet subnet = _from.Subnets[row];
            rows[row] = keys.AddNetKey(subnet.Material.Octets, subnet.NetKeyIndex, subnet.Origin, subnet.Name, subnet.IsOldKey).Row;
            if (rows[row] < 0 || subnet.IvIndex is null)
                continue;
            keys.Subnets[rows[row]].IvIndex = subnet.IvIndex;
            keys.Subnets[rows[row]].IvIndexOrigin = subnet.IvIndexOrigin;
        }
        foreach (AppKey key in _from.AppKeys)
            keys.AddAppKey(key.Material.Octets, key.AppKeyIndex, key.BoundNetKey, key.Origin, key.Name, key.IsOldKey);
        foreach (DeviceKey key in _from.DeviceKeys)
            keys.AddDeviceKey(key.Node, key.Octets, key.Origin);
        foreach (Label label in _from.Labels)
            keys.AddLabel(label.Uuid);
        foreach ((int subnet, MeshAddress lpn, MeshAddress friend, ushort lpnCounter, ushort friendCounter) in _from.FriendshipsKnown)
            if (rows[subnet] >= 0)
                keys.AddFriendship(rows[subnet], lpn, friend, lpnCounter, friendCounter);
    }
}
