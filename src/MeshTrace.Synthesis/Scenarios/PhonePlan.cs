using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>A node without advertising bearer: it is in the network while it is connected to a proxy (Mesh Protocol 1.1 §6).</summary>
internal sealed class PhonePlan
{
    /// <summary>Name of the node that it connects to.</summary>
    internal required string Proxy { get; init; }

    /// <summary>When it looks for the proxy, and when it closes the connection.</summary>
    internal required long FromUs { get; init; }
    internal required long UntilUs { get; init; }

    /// <summary>Rx MTU that it offers; the proxy has 69.</summary>
    internal required ushort Mtu { get; init; }

    /// <summary>A fault: groups that it listens to and does not add to its filter.</summary>
    internal HashSet<MeshAddress> ForgetsGroups { get; } = [];
}
