using System.Buffers.Binary;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Beacons;

/// <summary>Unprovisioned Device beacon (Mesh Protocol 1.1 §3.10.2): a device that waits to be provisioned. It is not protected.</summary>
/// <remarks>BeaconType(8)=0x00 | Device UUID(128) | OOB Information(16) | URI Hash(32), optional; big-endian.</remarks>
public readonly ref struct UnprovisionedDeviceBeacon
{
    public const int LengthWithoutUriHash = 19, LengthWithUriHash = 23;

    private readonly ReadOnlySpan<byte> _beacon;

    private UnprovisionedDeviceBeacon(ReadOnlySpan<byte> beacon) => _beacon = beacon;

    /// <summary>The 16 octets as sent.</summary>
    public ReadOnlySpan<byte> DeviceUuid => _beacon.Slice(1, 16);

    /// <summary>The same as a UUID, first octet leftmost.</summary>
    public Guid DeviceGuid => new(DeviceUuid, bigEndian: true);

    /// <summary>Where out-of-band information is found (§3.10.2): a set of bits.</summary>
    public ushort OobInformation => BinaryPrimitives.ReadUInt16BigEndian(_beacon[17..]);

    /// <summary>First four octets of s1 of the URI that the device advertises beside, or null.</summary>
    public uint? UriHash => _beacon.Length == LengthWithUriHash ? BinaryPrimitives.ReadUInt32BigEndian(_beacon[19..]) : null;

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out UnprovisionedDeviceBeacon beacon, out DecodeProblem problem)
    {
        int length = octets.Length <= LengthWithoutUriHash ? LengthWithoutUriHash : LengthWithUriHash;
        problem = Beacon.Check(octets, BeaconType.UnprovisionedDevice, length);
        beacon = problem.IsProblem ? default : new UnprovisionedDeviceBeacon(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes the beacon and returns its length.</summary>
    public static int Write(Span<byte> beacon, ReadOnlySpan<byte> deviceUuid, ushort oobInformation, uint? uriHash = null)
    {
        beacon[0] = (byte)BeaconType.UnprovisionedDevice;
        deviceUuid[..16].CopyTo(beacon[1..]);
        BinaryPrimitives.WriteUInt16BigEndian(beacon[17..], oobInformation);
        if (uriHash is not uint hash)
            return LengthWithoutUriHash;
        BinaryPrimitives.WriteUInt32BigEndian(beacon[19..], hash);
        return LengthWithUriHash;
    }

    /// <summary>The hash of URI data as the URI AD type carries it (§3.10.2): first four octets of s1.</summary>
    public static uint HashOf(ReadOnlySpan<byte> uriData)
    {
        Span<byte> salt = stackalloc byte[AesCmac.Length];
        KeyDerivation.S1(uriData, salt);
        return BinaryPrimitives.ReadUInt32BigEndian(salt);
    }
}
