using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Keys;

/// <summary>A NetKey and what is known of its subnet. A key under refresh and its successor are two rows with one index.</summary>
public sealed class Subnet
{
    /// <summary>NetKey index 0-4095, or null for a key typed without one.</summary>
    public int? NetKeyIndex { get; init; }
    public string? Name { get; init; }
    public required KeyOrigin Origin { get; init; }

    /// <summary>NID of its flooding credentials, 7 bits.</summary>
    public required byte Nid { get; init; }

    /// <summary>Network ID, 8 octets as a number, first octet highest.</summary>
    public required ulong NetworkId { get; init; }

    /// <summary>True for the old key of a key refresh.</summary>
    public bool IsOldKey { get; init; }

    /// <summary>Current IV index, or null while unknown.</summary>
    public uint? IvIndex { get; internal set; }
    public IvIndexOrigin IvIndexOrigin { get; internal set; }

    /// <summary>Distinct Network PDUs that this key opened.</summary>
    public int PdusOpened { get; internal set; }
}

/// <summary>An AppKey.</summary>
public sealed class AppKey
{
    public int? AppKeyIndex { get; init; }
    public int? BoundNetKey { get; init; }
    public string? Name { get; init; }
    public required KeyOrigin Origin { get; init; }

    /// <summary>AID, 6 bits.</summary>
    public required byte Aid { get; init; }
    public bool IsOldKey { get; init; }
    public int MessagesOpened { get; internal set; }
}

/// <summary>The device key of one node.</summary>
public sealed class DeviceKey
{
    public required MeshAddress Node { get; init; }
    public required KeyOrigin Origin { get; init; }
    public int MessagesOpened { get; internal set; }
}

/// <summary>A label UUID and the virtual address it gives.</summary>
public sealed class Label
{
    public required Guid Uuid { get; init; }
    public required MeshAddress Address { get; init; }
}

/// <summary>All keys, given or learnt from the air. What it shows holds no key octets; those stay inside.</summary>
public sealed partial class KeyRing
{
    private readonly List<Subnet> _subnets = [];
    private readonly List<AppKey> _appKeys = [];
    private readonly List<DeviceKey> _deviceKeys = [];
    private readonly List<Label> _labels = [];

    public IReadOnlyList<Subnet> Subnets => _subnets;
    public IReadOnlyList<AppKey> AppKeys => _appKeys;
    public IReadOnlyList<DeviceKey> DeviceKeys => _deviceKeys;
    public IReadOnlyList<Label> Labels => _labels;
}
