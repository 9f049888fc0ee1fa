using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>A named group address or label UUID.</summary>
/// <param name="Name">As written, with whatever characters it holds; null if absent.</param>
/// <param name="Address">Group or virtual address.</param>
/// <param name="Parent">The group above it; null at the top level.</param>
public sealed record DescribedGroup(string? Name, DescribedAddress Address, DescribedAddress? Parent);

/// <summary>A scene and the elements that hold it.</summary>
/// <param name="Name">As written, with whatever characters it holds; null if absent.</param>
/// <param name="Number">0x0001-0xFFFF.</param>
/// <param name="Addresses">Element addresses.</param>
public sealed record DescribedScene(string? Name, ushort Number, IReadOnlyList<MeshAddress> Addresses);

/// <summary>Addresses of removed nodes; they may be given again when the IV index is at least 2 above <paramref name="IvIndex"/>.</summary>
public sealed record DescribedExclusion(uint IvIndex, IReadOnlyList<MeshAddress> Addresses);
