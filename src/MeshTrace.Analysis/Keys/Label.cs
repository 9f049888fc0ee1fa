using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Keys;

/// <summary>A label UUID and the virtual address it gives.</summary>
public sealed class Label
{
    public required Guid Uuid { get; init; }
    public required MeshAddress Address { get; init; }
}
