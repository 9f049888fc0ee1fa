namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>A health fault, or a range of them: a row of health-faults.tsv.</summary>
/// <param name="First">Lowest fault value of the row.</param>
/// <param name="Last">Highest; the same for a single value.</param>
/// <param name="Name">The standard's name.</param>
public sealed record HealthFault(byte First, byte Last, string Name);
