using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Keys;

/// <summary>
/// All keys, given or learnt from the air, found by NID, AID, network ID, node and virtual address. What it shows holds no key octets;
/// <see cref="RevealedKeys"/> alone gives them, for the user who asks for them by name.
/// </summary>
public sealed partial class KeyRing
{
    internal const int NidCount = 128;      // 7 bits

    /// <summary>Protects memory against captures that hand out keys without end.</summary>
    public const int MostKeys = 100_000;

    private readonly List<Subnet> _subnets = [];
    private readonly List<AppKey> _appKeys = [];
    private readonly List<DeviceKey> _deviceKeys = [];
    private readonly List<Label> _labels = [];

    private readonly List<NetworkCandidate>[] _byNid = NewBuckets<NetworkCandidate>(NidCount);
    private readonly List<int>[] _byAid = NewBuckets<int>(64);
    private readonly Dictionary<ulong, List<int>> _byNetworkId = [];
    private readonly Dictionary<ushort, List<int>> _labelsByAddress = [];
    private readonly Dictionary<ushort, List<int>> _deviceKeysByNode = [];
    private readonly HashSet<Friendship> _friendships = [];

    public IReadOnlyList<Subnet> Subnets => _subnets;
    public IReadOnlyList<AppKey> AppKeys => _appKeys;
    public IReadOnlyList<DeviceKey> DeviceKeys => _deviceKeys;
    public IReadOnlyList<Label> Labels => _labels;

    /// <summary>How many friendships have given security material.</summary>
    public int Friendships => _friendships.Count;

    internal IEnumerable<(int Subnet, MeshAddress Lpn, MeshAddress Friend, ushort LpnCounter, ushort FriendCounter)> FriendshipsKnown =>
        _friendships.Select(one => (one.Subnet, one.Lpn, one.Friend, one.LpnCounter, one.FriendCounter));

    /// <summary>Grows whenever something is learnt with which Network PDUs heard before could be opened.</summary>
    internal int NetworkGeneration { get; private set; }

    /// <summary>Grows whenever something is learnt with which messages heard before could be opened.</summary>
    internal int MessageGeneration { get; private set; }

    /// <summary>Adds a NetKey; a key that is there already under the same index is not added again. The new key of a refresh has the name of the old one.</summary>
    /// <returns>The row, and whether it is new.</returns>
    internal (int Row, bool Added) AddNetKey(ReadOnlySpan<byte> key, int? index, KeyOrigin origin, string? name = null, bool isOldKey = false)
    {
        for (int row = 0; row < _subnets.Count; row++)
            if (_subnets[row].Material.Octets.SequenceEqual(key) && (index is null || _subnets[row].NetKeyIndex is null || _subnets[row].NetKeyIndex == index))
                return (row, false);
        if (_subnets.Count >= MostKeys)
            return (-1, false);
        var material = new NetKeyMaterial(key);
        Subnet? old = index is null ? null : _subnets.Find(known => known.NetKeyIndex == index);
        var subnet = new Subnet(material)
        {
            // A refresh leaves the IV index as it is; searched for, it might not be found, where both keys have the same NID (one in 128).
            IvIndex = old?.IvIndex, IvIndexOrigin = old?.IvIndexOrigin ?? default,
            NetKeyIndex = index, Name = name ?? old?.Name, Origin = origin, IsOldKey = isOldKey,
            Nid = material.Flooding.Nid, NetworkId = material.NetworkId,
        };
        int added = _subnets.Count;
        _subnets.Add(subnet);
        _byNid[material.Flooding.Nid].Add(new NetworkCandidate(added, material.Flooding));
        _byNid[material.Directed.Nid].Add(new NetworkCandidate(added, material.Directed));
        Bucket(_byNetworkId, material.NetworkId).Add(added);
        NetworkGeneration++;
        if (index is not null)
            foreach (Friendship known in _friendships.Where(known => _subnets[known.Subnet].NetKeyIndex == index).ToArray())
                Derive(known with { Subnet = added });
        return (added, true);
    }

    /// <summary>Adds an AppKey; a key that is there already under the same index is not added again.</summary>
    internal (int Row, bool Added) AddAppKey(ReadOnlySpan<byte> key, int? index, int? boundNetKey, KeyOrigin origin, string? name = null, bool isOldKey = false)
    {
        var material = new AppKeyMaterial(key);
        foreach (int row in _byAid[material.Aid])
            if (_appKeys[row].Material.Octets.SequenceEqual(key) && (index is null || _appKeys[row].AppKeyIndex is null || _appKeys[row].AppKeyIndex == index))
                return (row, false);
        if (_appKeys.Count >= MostKeys)
            return (-1, false);
        int added = _appKeys.Count;
        _appKeys.Add(new AppKey(material)
        {
            AppKeyIndex = index, BoundNetKey = boundNetKey, Name = name ?? _appKeys.Find(known => index is not null && known.AppKeyIndex == index)?.Name, Origin = origin, Aid = material.Aid, IsOldKey = isOldKey,
        });
        _byAid[material.Aid].Add(added);
        MessageGeneration++;
        return (added, true);
    }

    /// <summary>Adds the device key of a node. A node that was provisioned again has two.</summary>
    internal (int Row, bool Added) AddDeviceKey(MeshAddress node, ReadOnlySpan<byte> key, KeyOrigin origin)
    {
        List<int> rows = Bucket(_deviceKeysByNode, node.Value);
        foreach (int row in rows)
            if (_deviceKeys[row].Octets.AsSpan().SequenceEqual(key))
                return (row, false);
        if (_deviceKeys.Count >= MostKeys)
            return (-1, false);
        int added = _deviceKeys.Count;
        _deviceKeys.Add(new DeviceKey(key) { Node = node, Origin = origin });
        rows.Add(added);
        MessageGeneration++;
        return (added, true);
    }

    /// <summary>Adds a label UUID; its virtual address is computed (Mesh Protocol 1.1 §3.4.2.3).</summary>
    internal (int Row, bool Added) AddLabel(Guid uuid)
    {
        Span<byte> octets = stackalloc byte[16];
        uuid.TryWriteBytes(octets, bigEndian: true, out _);
        MeshAddress address = VirtualAddress.Of(octets);
        List<int> rows = Bucket(_labelsByAddress, address.Value);
        foreach (int row in rows)
            if (_labels[row].Uuid == uuid)
                return (row, false);
        if (_labels.Count >= MostKeys)
            return (-1, false);
        int added = _labels.Count;
        _labels.Add(new Label { Uuid = uuid, Address = address });
        rows.Add(added);
        MessageGeneration++;
        return (added, true);
    }

    /// <summary>
    /// Adds the security material of a friendship (Mesh Protocol 1.1 §3.9.6.3.1), once. While a key refresh runs the NetKey has two values, and the friendship
    /// has material from both: the nodes go on with the new one.
    /// </summary>
    internal bool AddFriendship(int subnet, MeshAddress lpn, MeshAddress friend, ushort lpnCounter, ushort friendCounter)
    {
        var friendship = new Friendship(subnet, lpn, friend, lpnCounter, friendCounter);
        if (!Derive(friendship))
            return false;
        if (_subnets[subnet].NetKeyIndex is { } index)
            for (int other = 0; other < _subnets.Count; other++)
                if (other != subnet && _subnets[other].NetKeyIndex == index)
                    Derive(friendship with { Subnet = other });
        return true;
    }

    private bool Derive(Friendship one)
    {
        if (_friendships.Count >= MostKeys || !_friendships.Add(one))
            return false;
        NetworkCredentials credentials = one.Credentials(_subnets[one.Subnet].Material);
        _byNid[credentials.Nid].Add(new NetworkCandidate(one.Subnet, credentials, one));
        NetworkGeneration++;
        return true;
    }

    internal IReadOnlyList<NetworkCandidate> CandidatesFor(byte nid) => _byNid[nid & 0x7F];
    internal IReadOnlyList<int> AppKeysFor(byte aid) => _byAid[aid & 0x3F];
    internal IReadOnlyList<int> SubnetsWith(ulong networkId) => _byNetworkId.TryGetValue(networkId, out List<int>? rows) ? rows : [];
    internal IReadOnlyList<int> LabelsFor(MeshAddress address) => _labelsByAddress.TryGetValue(address.Value, out List<int>? rows) ? rows : [];
    internal IReadOnlyList<int> DeviceKeysOf(MeshAddress node) => _deviceKeysByNode.TryGetValue(node.Value, out List<int>? rows) ? rows : [];

    private static List<T>[] NewBuckets<T>(int count)
    {
        var buckets = new List<T>[count];
        for (int i = 0; i < count; i++)
            buckets[i] = [];
        return buckets;
    }

    private static List<int> Bucket<TKey>(Dictionary<TKey, List<int>> map, TKey key) where TKey : notnull
    {
        if (!map.TryGetValue(key, out List<int>? rows))
            map.Add(key, rows = []);
        return rows;
    }
}

/// <summary>Credentials that a NID may mean.</summary>
/// <param name="Subnet">Row of the subnet.</param>
/// <param name="Credentials">With the NID.</param>
/// <param name="Friendship">The friendship that they belong to, or null.</param>
internal readonly record struct NetworkCandidate(int Subnet, NetworkCredentials Credentials, Friendship? Friendship = null);

/// <summary>What the security material of a friendship is made of (Mesh Protocol 1.1 §3.9.6.3.1).</summary>
internal readonly record struct Friendship(int Subnet, MeshAddress Lpn, MeshAddress Friend, ushort LpnCounter, ushort FriendCounter)
{
    public NetworkCredentials Credentials(NetKeyMaterial netKey) => NetworkCredentials.Friendship(netKey.Octets, Lpn, Friend, LpnCounter, FriendCounter);
}
