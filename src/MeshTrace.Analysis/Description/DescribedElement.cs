using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>An element of a node.</summary>
public sealed class DescribedElement
{
    /// <summary>0 for the primary element.</summary>
    public required int Index { get; init; }

    /// <summary>The node's unicast address + <see cref="Index"/>.</summary>
    public required MeshAddress Address { get; init; }

    /// <summary>As written, with whatever characters it holds; null if absent.</summary>
    public string? Name { get; init; }

    /// <summary>GATT namespace descriptor, or null.</summary>
    public ushort? Location { get; init; }

    public required IReadOnlyList<DescribedModel> Models { get; init; }

    /// <summary>The SIG model with an identifier, or null.</summary>
    public DescribedModel? FindModel(ushort modelId) => Models.FirstOrDefault(model => model.IsSig(modelId));
}
