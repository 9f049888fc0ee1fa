using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Truth;

/// <summary>One provisioning as its provisioner knows it.</summary>
internal sealed class ProvisioningTruth(ProvisionPlan plan, MeshNode by, MeshNode device, long startUs)
{
    internal ProvisionPlan Plan { get; } = plan;
    internal MeshNode By { get; } = by;
    internal MeshNode Device { get; } = device;
    internal long StartUs { get; } = startUs;
    internal long? EndUs { get; private set; }

    /// <summary>complete, confirmation failed, timeout, stopped, no answer to Link Open, closed by the device, cut-off.</summary>
    internal string Outcome { get; private set; } = "cut-off";

    /// <summary>Provisioning PDUs of both ends, and transactions sent again.</summary>
    internal int Pdus { get; set; }
    internal int Repeats { get; set; }

    internal void End(long nowUs, string outcome) => (EndUs, Outcome) = (nowUs, outcome);
}
