using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>How one device joined and was set up, as far as it was heard.</summary>
public sealed class NodeStory
{
    /// <summary>Primary address, or null for a device that did not join, or whose provisioning nobody could read.</summary>
    public MeshAddress? Node { get; init; }
    public Guid? DeviceUuid { get; init; }

    /// <summary>Row of its first unprovisioned device beacon, or null.</summary>
    public int? Beacon { get; init; }

    /// <summary>Rows of its provisioning links, in the order begun: more than one is more than one try.</summary>
    public IReadOnlyList<int> Links { get; init; } = [];

    /// <summary>Row of the link by which it joined, or null.</summary>
    public int? JoinedBy { get; init; }

    /// <summary>From the opening of that link to its last provisioning PDU, or null.</summary>
    public double? ProvisioningMs { get; init; }

    /// <summary>What happened to it, in order of time.</summary>
    public IReadOnlyList<LifecycleEvent> Events { get; init; } = [];

    /// <summary>Steps of a usual setup that were heard and not refused.</summary>
    public bool CompositionTold { get; init; }
    public bool AppKeyAdded { get; init; }
    public bool KeyBound { get; init; }

    /// <summary>When the last Config message to it was heard, or null.</summary>
    public long? LastConfigurationNs { get; init; }
}
