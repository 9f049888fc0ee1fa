using System.Buffers.Binary;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Redaction;

/// <summary>Everything of a network that has another value in a redacted result: keys and what follows from them, addresses, labels, UUIDs.</summary>
internal sealed class Pseudonyms
{
    private readonly KeyRing _keys;
    private readonly PseudonymGenerator _generator;
    private readonly Dictionary<int, NetKeyMaterial> _netKeys = [];
    private readonly Dictionary<int, AppKeyMaterial> _appKeys = [];
    private readonly Dictionary<int, AesKey> _deviceKeys = [];
    private readonly Dictionary<Friendship, NetworkCredentials> _friendships = [];
    private byte[]? _nids;

    public Pseudonyms(KeyRing keys, PseudonymGenerator generator, AddressPseudonyms addresses, IReadOnlyList<MeshAddress> nodes)
    {
        _keys = keys;
        _generator = generator;
        Addresses = addresses;
        Nodes = nodes;
    }

    public AddressPseudonyms Addresses { get; }

    /// <summary>Primary addresses, the real ones, of all nodes known.</summary>
    public IReadOnlyList<MeshAddress> Nodes { get; }

    /// <summary>The fresh key for a key: a NetKey, an AppKey or a device key alike.</summary>
    public byte[] Key(ReadOnlySpan<byte> key)
    {
        byte[] fresh = new byte[AesKey.Length];
        _generator.Fill(PseudonymOf.Key, key, fresh);
        return fresh;
    }

    /// <summary>Of the subnet in this row of the key ring.</summary>
    public NetKeyMaterial NetKey(int row)
    {
        if (!_netKeys.TryGetValue(row, out NetKeyMaterial? fresh))
            _netKeys.Add(row, fresh = new NetKeyMaterial(Key(_keys.Subnets[row].Material.Octets)));
        return fresh;
    }

    /// <summary>Of the AppKey in this row of the key ring.</summary>
    public AppKeyMaterial AppKey(int row)
    {
        if (!_appKeys.TryGetValue(row, out AppKeyMaterial? fresh))
            _appKeys.Add(row, fresh = new AppKeyMaterial(Key(_keys.AppKeys[row].Material.Octets)));
        return fresh;
    }

    /// <summary>Of a node: one, also where it was provisioned several times.</summary>
    public AesKey DeviceKey(MeshAddress node)
    {
        int row = _keys.DeviceKeysOf(node)[0];
        if (!_deviceKeys.TryGetValue(row, out AesKey? fresh))
            _deviceKeys.Add(row, fresh = new AesKey(Key(_keys.DeviceKeys[row].Octets)));
        return fresh;
    }

    /// <summary>The credentials that take the place of those that opened a PDU.</summary>
    public NetworkCredentials Credentials(NetworkCandidate candidate)
    {
        NetKeyMaterial netKey = NetKey(candidate.Subnet);
        if (candidate.Friendship is not { } friendship)
            return candidate.Credentials.Kind == CredentialsKind.Directed ? netKey.Directed : netKey.Flooding;
        if (!_friendships.TryGetValue(friendship, out NetworkCredentials? fresh))
        {
            fresh = (friendship with { Lpn = Addresses.Of(friendship.Lpn), Friend = Addresses.Of(friendship.Friend) }).Credentials(netKey);
            _friendships.Add(friendship, fresh);
        }
        return fresh;
    }

    /// <summary>Of the network: one of ours has that of its fresh key.</summary>
    public ulong NetworkId(ulong networkId) => _keys.SubnetsWith(networkId) is [var row, ..] ? NetKey(row).NetworkId : Number(PseudonymOf.NetworkId, networkId);

    /// <summary>Of PDUs that no key opened: of one of our keys that of the fresh key, else one that none of the fresh keys has.</summary>
    public byte Nid(byte nid) => _keys.CandidatesFor(nid) is [var candidate, ..] ? Credentials(candidate).Nid : (_nids ??= ForeignNids())[nid];

    /// <summary>Of messages that no key opened: of one of our keys that of the fresh key, else as it is: it tells nothing of a key that nobody knows.</summary>
    public byte Aid(byte aid) => _keys.AppKeysFor(aid) is [var row, ..] ? AppKey(row).Aid : aid;

    public Guid Uuid(Guid uuid)
    {
        Span<byte> octets = stackalloc byte[16];
        uuid.TryWriteBytes(octets, bigEndian: true, out _);
        _generator.Fill(PseudonymOf.Uuid, octets, octets);
        octets[6] = (byte)((octets[6] & 0x0F) | 0x40);      // version 4, made of chance (RFC 9562 §5.4)
        octets[8] = (byte)((octets[8] & 0x3F) | 0x80);
        return new Guid(octets, bigEndian: true);
    }

    /// <summary>Of a device address: its kind, which the two highest bits of a random one tell, stays; a public one becomes one that no maker was given.</summary>
    public ulong DeviceAddress(ulong address, bool random)
    {
        const ulong kind = 0xC000_0000_0000, locallyAdministered = 0x0200_0000_0000, groupBit = 0x0100_0000_0000;
        if (address == 0)       // there is none
            return 0;
        ulong pseudonym = Number(PseudonymOf.DeviceAddress, address) & 0xFFFF_FFFF_FFFF;
        return random ? (pseudonym & ~kind) | (address & kind) : (pseudonym & ~groupBit) | locallyAdministered;
    }

    /// <summary>In the place of a device address as it stands in octets, low octet first.</summary>
    public void DeviceAddress(Span<byte> octets, bool random) => AdvertisingPdu.WriteAddress(octets, DeviceAddress(AdvertisingPdu.ReadAddress(octets), random));

    /// <summary>Other octets in their place: the same ones for the same ones.</summary>
    public void Octets(Span<byte> octets, PseudonymOf purpose = PseudonymOf.Octets) => _generator.Fill(purpose, octets, octets);

    private ulong Number(PseudonymOf purpose, ulong number)
    {
        Span<byte> octets = stackalloc byte[sizeof(ulong)];
        BinaryPrimitives.WriteUInt64BigEndian(octets, number);
        _generator.Fill(purpose, octets, octets);
        return BinaryPrimitives.ReadUInt64BigEndian(octets);
    }

    private byte[] ForeignNids()
    {
        var taken = new HashSet<byte>();
        for (int nid = 0; nid < KeyRing.NidCount; nid++)
            foreach (NetworkCandidate candidate in _keys.CandidatesFor((byte)nid))
                taken.Add(Credentials(candidate).Nid);
        byte[] free = [.. Enumerable.Range(0, KeyRing.NidCount).Select(nid => (byte)nid).Where(nid => !taken.Contains(nid)).OrderBy(nid => Number(PseudonymOf.Nid, nid))];
        byte[] nids = new byte[KeyRing.NidCount];
        int next = 0;
        for (int nid = 0; nid < nids.Length; nid++)
            nids[nid] = _keys.CandidatesFor((byte)nid).Count > 0 || free.Length == 0 ? (byte)nid : free[next++ % free.Length];
        return nids;
    }
}
