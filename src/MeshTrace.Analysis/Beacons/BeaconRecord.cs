namespace MeshTrace.Analysis.Beacons;

public enum BeaconKind : byte
{
    Secure,
    Private,
    Unprovisioned,
}

/// <summary>One distinct beacon content per subnet or device.</summary>
public sealed class BeaconRecord
{
    public required BeaconKind Kind { get; init; }

    /// <summary>8 octets, hexadecimal, or null.</summary>
    public string? NetworkId { get; internal set; }

    /// <summary>Row in <see cref="Keys.KeyRing.Subnets"/>, or -1.</summary>
    public int Subnet { get; internal set; } = -1;
    public uint? IvIndex { get; internal set; }
    public bool? KeyRefresh { get; internal set; }
    public bool? IvUpdate { get; internal set; }
    public Guid? DeviceUuid { get; internal set; }
    public ushort? OobInformation { get; internal set; }
    public uint? UriHash { get; internal set; }

    /// <summary>Null where no key could check it.</summary>
    public bool? Authenticated { get; internal set; }
    public int Count { get; internal set; }
    public long FirstTimeNs { get; internal set; }
    public long LastTimeNs { get; internal set; }
    public List<int> Frames { get; } = [];
}
