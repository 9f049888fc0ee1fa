using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Keys;

/// <summary>A NetKey or AppKey given by hand.</summary>
/// <param name="Index">NetKey or AppKey index 0-4095; null if none was given.</param>
/// <param name="Key">The key; it does not show itself.</param>
public sealed record TypedKey(int? Index, KeyOctets Key);

/// <summary>A device key given by hand.</summary>
/// <param name="Node">Unicast address of the node's primary element.</param>
/// <param name="Key">The key; it does not show itself.</param>
public sealed record TypedDeviceKey(MeshAddress Node, KeyOctets Key);

/// <summary>Keys, labels and IV indexes given by hand: on the command line, in files, in the environment. Equal values stand once, in the order given.</summary>
public sealed class KeyArguments
{
    public static readonly KeyArguments None = new();

    public IReadOnlyList<TypedKey> NetKeys { get; init; } = [];
    public IReadOnlyList<TypedKey> AppKeys { get; init; } = [];
    public IReadOnlyList<TypedDeviceKey> DeviceKeys { get; init; } = [];
    public IReadOnlyList<Guid> Labels { get; init; } = [];

    /// <summary>To be tried in this order and believed when a NetMIC confirms one.</summary>
    public IReadOnlyList<uint> IvIndexes { get; init; } = [];

    /// <summary>Private keys (P-256, 32 octets) of either side of a provisioning.</summary>
    public IReadOnlyList<ReadOnlyMemory<byte>> ProvisioningKeys { get; init; } = [];

    /// <summary>Out-of-band values to check confirmations with, at most 32 octets.</summary>
    public IReadOnlyList<ReadOnlyMemory<byte>> ProvisioningOobValues { get; init; } = [];

    /// <summary>True if nothing at all was given.</summary>
    public bool IsEmpty => NetKeys.Count + AppKeys.Count + DeviceKeys.Count + Labels.Count + IvIndexes.Count + ProvisioningKeys.Count == 0;
}
