using System.Buffers.Binary;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Beacons;

/// <summary>Mesh Private beacon (Mesh Protocol 1.1 §3.10.4): flags and IV index for those who have the PrivateBeaconKey only.</summary>
/// <remarks>
/// BeaconType(8)=0x02 | Random(104) | Obfuscated Private Beacon Data(40) | Authentication Tag(64). The function is AES-CCM with Random as the
/// nonce and a tag of 64 bits; inside are Flags(8) and IV Index(32), big-endian.
/// </remarks>
public readonly ref struct PrivateBeacon
{
    public const int Length = 27;

    private const int DataStart = 14, DataLength = 5, TagLength = 8;

    private readonly ReadOnlySpan<byte> _beacon;

    private PrivateBeacon(ReadOnlySpan<byte> beacon) => _beacon = beacon;

    /// <summary>The 13 octets that make each beacon look different.</summary>
    public ReadOnlySpan<byte> Random => _beacon[1..DataStart];

    public ReadOnlySpan<byte> ObfuscatedPrivateBeaconData => _beacon.Slice(DataStart, DataLength);

    public ReadOnlySpan<byte> AuthenticationTag => _beacon[(DataStart + DataLength)..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out PrivateBeacon beacon, out DecodeProblem problem)
    {
        problem = Beacon.Check(octets, BeaconType.MeshPrivate, Length);
        beacon = problem.IsProblem ? default : new PrivateBeacon(octets);
        return !problem.IsProblem;
    }

    /// <summary>Opens the beacon; false where it was not made with this PrivateBeaconKey.</summary>
    public bool TryOpen(AesKey privateBeaconKey, out BeaconFlags flags, out uint ivIndex)
    {
        Span<byte> data = stackalloc byte[DataLength];
        bool opened = AesCcm.TryDecrypt(privateBeaconKey, Random, _beacon[DataStart..], TagLength, [], data);
        flags = (BeaconFlags)data[0];                              // data is zeroed where it did not open
        ivIndex = BinaryPrimitives.ReadUInt32BigEndian(data[1..]);
        return opened;
    }

    /// <summary>Writes the beacon and returns its length. <paramref name="random"/> has 13 octets.</summary>
    public static int Write(Span<byte> beacon, ReadOnlySpan<byte> random, BeaconFlags flags, uint ivIndex, AesKey privateBeaconKey)
    {
        beacon[0] = (byte)BeaconType.MeshPrivate;
        random[..(DataStart - 1)].CopyTo(beacon[1..]);
        Span<byte> data = stackalloc byte[DataLength];
        data[0] = (byte)flags;
        BinaryPrimitives.WriteUInt32BigEndian(data[1..], ivIndex);
        AesCcm.Encrypt(privateBeaconKey, beacon[1..DataStart], data, TagLength, [], beacon[DataStart..Length]);
        return Length;
    }
}
