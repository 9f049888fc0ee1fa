namespace MeshTrace.Analysis.Description;

/// <summary>A NetKey of the description: one subnet (Mesh Configuration Database Profile 1.0.1, NetKey object).</summary>
public sealed record DescribedNetKey
{
    /// <summary>As written, with whatever characters it holds; null if absent.</summary>
    public string? Name { get; init; }

    /// <summary>NetKey index 0-4095; 0 is the primary subnet.</summary>
    public required int Index { get; init; }

    /// <summary>The key; the new one during a key refresh.</summary>
    public required KeyOctets Key { get; init; }

    /// <summary>The previous key while a key refresh runs, else null.</summary>
    public KeyOctets? OldKey { get; init; }

    /// <summary>Key Refresh Phase: 0 normal; 1 distribution, sent with the old key; 2 sent with the new key; both are received in 1 and 2.</summary>
    public int Phase { get; init; }

    /// <summary>True if only securely provisioned nodes may have the key; null if unknown.</summary>
    public bool? SecureNodesOnly { get; init; }

    /// <summary>Last change of <see cref="Phase"/>, or null.</summary>
    public DateTimeOffset? Timestamp { get; init; }
}

/// <summary>An AppKey of the description (Mesh Configuration Database Profile 1.0.1, AppKey object).</summary>
public sealed record DescribedAppKey
{
    /// <summary>As written, with whatever characters it holds; null if absent.</summary>
    public string? Name { get; init; }

    /// <summary>AppKey index 0-4095.</summary>
    public required int Index { get; init; }

    /// <summary>Index of the NetKey that it is bound to, or null if the file does not say.</summary>
    public int? BoundNetKey { get; init; }

    public required KeyOctets Key { get; init; }

    /// <summary>The previous key while its NetKey is refreshed, else null.</summary>
    public KeyOctets? OldKey { get; init; }
}

/// <summary>A key that a node has.</summary>
/// <param name="Index">NetKey or AppKey index 0-4095.</param>
/// <param name="Updated">True if the node already has the new key of a key refresh.</param>
public readonly record struct DescribedNodeKey(int Index, bool Updated);
