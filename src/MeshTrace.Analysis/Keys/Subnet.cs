using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Keys;

/// <summary>A NetKey and what is known of its subnet. A key under refresh and its successor are two rows with one index.</summary>
public sealed class Subnet
{
    internal Subnet(NetKeyMaterial material) => Material = material;

    internal NetKeyMaterial Material { get; }

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
