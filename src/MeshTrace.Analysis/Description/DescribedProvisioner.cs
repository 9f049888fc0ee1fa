namespace MeshTrace.Analysis.Description;

/// <summary>Numbers from <paramref name="Low"/> to <paramref name="High"/>, both included.</summary>
public readonly record struct DescribedRange(ushort Low, ushort High)
{
    public bool Contains(ushort value) => value >= Low && value <= High;
}

/// <summary>A provisioner and the numbers it may give away.</summary>
public sealed record DescribedProvisioner
{
    /// <summary>As written, with whatever characters it holds; null if absent.</summary>
    public string? Name { get; init; }

    /// <summary>Equals the UUID of a node when the provisioner has an address.</summary>
    public Guid? Uuid { get; init; }

    /// <summary>Within 0x0001-0x7FFF.</summary>
    public IReadOnlyList<DescribedRange> UnicastRanges { get; init; } = [];

    /// <summary>Within 0xC000-0xFEFF.</summary>
    public IReadOnlyList<DescribedRange> GroupRanges { get; init; } = [];

    /// <summary>Within 0x0001-0xFFFF.</summary>
    public IReadOnlyList<DescribedRange> SceneRanges { get; init; } = [];
}
