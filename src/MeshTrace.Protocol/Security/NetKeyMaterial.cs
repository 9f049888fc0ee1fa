namespace MeshTrace.Protocol.Security;

/// <summary>A NetKey with all that is derived from it (Mesh Protocol 1.1 §3.9.6.3). Safe to use from several threads.</summary>
public sealed class NetKeyMaterial
{
    private readonly byte[] _octets;
    private readonly Lazy<NetworkCredentials> _directed;

    /// <exception cref="ArgumentException">The key has not 16 octets.</exception>
    public NetKeyMaterial(ReadOnlySpan<byte> netKey)
    {
        Flooding = NetworkCredentials.Flooding(netKey);
        _octets = netKey.ToArray();
        _directed = new Lazy<NetworkCredentials>(() => NetworkCredentials.Directed(_octets));
        NetworkId = KeyDerivation.K3(netKey);
        IdentityKey = KeyDerivation.FromNetKey(netKey, "nkik"u8);
        BeaconKey = KeyDerivation.FromNetKey(netKey, "nkbk"u8);
        PrivateBeaconKey = KeyDerivation.FromNetKey(netKey, "nkpk"u8);
    }

    /// <summary>Managed flooding security credentials.</summary>
    public NetworkCredentials Flooding { get; }

    /// <summary>Directed security credentials, derived when first asked for.</summary>
    public NetworkCredentials Directed => _directed.Value;

    /// <summary>The public 64-bit network ID, first octet on the air highest.</summary>
    public ulong NetworkId { get; }

    /// <summary>Authenticates Secure Network beacons.</summary>
    public AesKey BeaconKey { get; }

    /// <summary>Makes the hashes of Node Identity and of the private identities.</summary>
    public AesKey IdentityKey { get; }

    /// <summary>Encrypts and authenticates Mesh Private beacons.</summary>
    public AesKey PrivateBeaconKey { get; }

    /// <summary>The secret octets themselves: for key learning and comparison only, never to be shown.</summary>
    public ReadOnlySpan<byte> Octets => _octets;

    /// <summary>Never shows the key.</summary>
    public override string ToString() => $"NetKey of network {NetworkId:x16}";
}
