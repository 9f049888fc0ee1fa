using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Keys;

/// <summary>An AppKey. A key under refresh and its successor are two rows with one index.</summary>
public sealed class AppKey
{
    internal AppKey(AppKeyMaterial material) => Material = material;

    internal AppKeyMaterial Material { get; }

    /// <summary>AppKey index 0-4095, or null for a key typed without one.</summary>
    public int? AppKeyIndex { get; init; }

    /// <summary>Index of the NetKey it is bound to, or null where unknown.</summary>
    public int? BoundNetKey { get; init; }
    public string? Name { get; init; }
    public required KeyOrigin Origin { get; init; }

    /// <summary>AID, 6 bits.</summary>
    public required byte Aid { get; init; }
    public bool IsOldKey { get; init; }
    public int MessagesOpened { get; internal set; }
}
