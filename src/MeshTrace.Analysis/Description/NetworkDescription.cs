using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>
/// A mesh network as its provisioning program exported it (Mesh Configuration Database Profile 1.0 and 1.0.1): keys, nodes,
/// elements, models, bindings, subscriptions, groups.
/// </summary>
/// <remarks>
/// It is what that program believes: evidence of the configuration, not proof. It holds neither IV index nor sequence numbers.
/// Names are kept as written; whoever shows one passes it through <see cref="SafeText.Strip"/>, as <see cref="NameOf"/> does.
/// </remarks>
public sealed partial class NetworkDescription
{
    /// <summary><c>meshName</c> as written, or null.</summary>
    public string? Name { get; init; }

    /// <summary><c>meshUUID</c>, or null.</summary>
    public Guid? MeshUuid { get; init; }

    /// <summary>Version of the format as written, at most a few characters; null if absent.</summary>
    public string? Version { get; init; }

    /// <summary>Last change of the database, or null.</summary>
    public DateTimeOffset? Timestamp { get; init; }

    /// <summary>True: a part of a larger database; nodes and keys may be missing.</summary>
    public bool Partial { get; init; }

    /// <summary>An IV index that some exporters add; to be verified with a NetMIC before it is believed.</summary>
    public uint? IvIndexHint { get; init; }

    public IReadOnlyList<DescribedNetKey> NetKeys { get; init; } = [];
    public IReadOnlyList<DescribedAppKey> AppKeys { get; init; } = [];
    public IReadOnlyList<DescribedProvisioner> Provisioners { get; init; } = [];

    /// <summary>Nodes in the order of the file; two may claim the same address (<see cref="ContestedAddresses"/>).</summary>
    public IReadOnlyList<DescribedNode> Nodes { get; init; } = [];
    public IReadOnlyList<DescribedGroup> Groups { get; init; } = [];
    public IReadOnlyList<DescribedScene> Scenes { get; init; } = [];
    public IReadOnlyList<DescribedExclusion> Exclusions { get; init; } = [];

    /// <summary>
    /// What deviated from the profile and how it was read, one line a kind with the first place where it was met.
    /// Safe to show; holds nothing of a key.
    /// </summary>
    public IReadOnlyList<string> Repairs { get; init; } = [];

    /// <summary>Every label UUID that a group, a subscription or a publication names, each once.</summary>
    public IEnumerable<Guid> LabelUuids => Index.Labels;

    /// <summary>Addresses that more than one node claims, lowest first.</summary>
    public IReadOnlyList<MeshAddress> ContestedAddresses => Index.ContestedAddresses;
}
