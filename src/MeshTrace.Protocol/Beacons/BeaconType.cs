namespace MeshTrace.Protocol.Beacons;

/// <summary>The first octet of a mesh beacon (Mesh Protocol 1.1 §3.10.1). Other values are reserved.</summary>
public enum BeaconType : byte
{
    UnprovisionedDevice = 0x00,
    SecureNetwork = 0x01,
    MeshPrivate = 0x02,
}

/// <summary>The Flags octet of the Secure Network beacon and of the Mesh Private beacon (§3.10.3, §3.10.4); bits 2 to 7 are RFU.</summary>
[Flags]
public enum BeaconFlags : byte
{
    None = 0,

    /// <summary>Key refresh phase 2: the new keys are in use.</summary>
    KeyRefresh = 0x01,

    /// <summary>IV update in progress: the IV index told is the new one, the one before is still used for sending.</summary>
    IvUpdate = 0x02,
}

/// <summary>What is common to the mesh beacons.</summary>
public static class Beacon
{
    /// <summary>The type of a beacon, which may be one that the standard has not assigned. False for no octets.</summary>
    public static bool TryReadType(ReadOnlySpan<byte> beacon, out BeaconType type)
    {
        type = beacon.IsEmpty ? default : (BeaconType)beacon[0];
        return !beacon.IsEmpty;
    }

    internal static DecodeProblem Check(ReadOnlySpan<byte> beacon, BeaconType type, int length)
    {
        if (beacon.Length != length)
            return DecodeProblem.WrongLength(Layer.Beacon, length, beacon.Length);
        return beacon[0] == (byte)type ? DecodeProblem.None : DecodeProblem.WrongValue(Layer.Beacon, 0, "BeaconType", beacon[0]);
    }
}
