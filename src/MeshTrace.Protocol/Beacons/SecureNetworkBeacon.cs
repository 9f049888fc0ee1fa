using System.Buffers.Binary;
using System.Security.Cryptography;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Beacons;

/// <summary>
/// Secure Network beacon (Mesh Protocol 1.1 §3.10.3): tells network and IV index in the clear, authenticated by the BeaconKey.
/// </summary>
/// <remarks>BeaconType(8)=0x01 | Flags(8) | Network ID(64) | IV Index(32) | Authentication Value(64); big-endian.</remarks>
public readonly ref struct SecureNetworkBeacon
{
    public const int Length = 22;

    /// <summary>Flags, Network ID and IV Index are authenticated.</summary>
    private const int AuthenticatedStart = 1, AuthenticationStart = 14;

    private readonly ReadOnlySpan<byte> _beacon;

    private SecureNetworkBeacon(ReadOnlySpan<byte> beacon) => _beacon = beacon;

    public BeaconFlags Flags => (BeaconFlags)_beacon[1];

    /// <summary>The key refresh flag.</summary>
    public bool KeyRefresh => (Flags & BeaconFlags.KeyRefresh) != 0;

    /// <summary>The IV update flag.</summary>
    public bool IvUpdate => (Flags & BeaconFlags.IvUpdate) != 0;

    public ulong NetworkId => BinaryPrimitives.ReadUInt64BigEndian(_beacon[2..]);

    public uint IvIndex => BinaryPrimitives.ReadUInt32BigEndian(_beacon[10..]);

    public ReadOnlySpan<byte> AuthenticationValue => _beacon.Slice(AuthenticationStart, 8);

    /// <summary>
    /// Every check is here; once it has returned true, no property can fail. What it tells is worth nothing before <see
    /// cref="Authenticate"/>.
    /// </summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out SecureNetworkBeacon beacon, out DecodeProblem problem)
    {
        problem = Beacon.Check(octets, BeaconType.SecureNetwork, Length);
        beacon = problem.IsProblem ? default : new SecureNetworkBeacon(octets);
        return !problem.IsProblem;
    }

    /// <summary>True where the beacon was made with this BeaconKey.</summary>
    public bool Authenticate(AesKey beaconKey)
    {
        Span<byte> mac = stackalloc byte[AesCmac.Length];
        AesCmac.Compute(beaconKey, _beacon[AuthenticatedStart..AuthenticationStart], mac);
        return CryptographicOperations.FixedTimeEquals(mac[..8], AuthenticationValue);
    }

    /// <summary>Writes the beacon and returns its length.</summary>
    public static int Write(Span<byte> beacon, BeaconFlags flags, ulong networkId, uint ivIndex, AesKey beaconKey)
    {
        beacon[0] = (byte)BeaconType.SecureNetwork;
        beacon[1] = (byte)flags;
        BinaryPrimitives.WriteUInt64BigEndian(beacon[2..], networkId);
        BinaryPrimitives.WriteUInt32BigEndian(beacon[10..], ivIndex);
        Span<byte> mac = stackalloc byte[AesCmac.Length];
        AesCmac.Compute(beaconKey, beacon[AuthenticatedStart..AuthenticationStart], mac);
        mac[..8].CopyTo(beacon[AuthenticationStart..]);
        return Length;
    }
}
