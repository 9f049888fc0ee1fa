using MeshTrace.Protocol.Provisioning;
using MeshTrace.Synthesis.Nodes.Provisioning;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>A provisioner brings a device into the network.</summary>
internal sealed class ProvisionPlan : IncidentPlan
{
    private ProvisioningSession? _session;

    /// <summary>The node that provisions.</summary>
    internal required string By { get; init; }
    internal required uint LinkId { get; init; }
    internal required ProvisioningAlgorithm Algorithm { get; init; }

    /// <summary>Null: No OOB.</summary>
    internal byte[]? StaticOob { get; init; }
    internal required byte[] ProvisionerPrivateKey { get; init; }
    internal required byte[] DevicePrivateKey { get; init; }
    internal required byte[] ProvisionerRandom { get; init; }
    internal required byte[] DeviceRandom { get; init; }
    internal byte AttentionS { get; init; }
    internal required int Elements { get; init; }

    /// <summary>All zero without OOB information.</summary>
    internal byte[] AuthValue => StaticOob ?? new byte[ProvisionerRandom.Length];

    /// <summary>What the device takes for it; another one is a fault.</summary>
    internal byte[] DeviceAuthValue { get => field ?? AuthValue; set; }

    /// <summary>Faults: the provisioner, or the device, is gone after the device's confirmation.</summary>
    internal bool StopsAtConfirmation { get; set; }
    internal bool DeviceFallsSilent { get; set; }

    internal ProvisioningSession Session => _session ??= new ProvisioningSession(this, Elements);
}
