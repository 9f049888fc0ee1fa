using MeshTrace.Analysis.Findings.Rules.Joining;

namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Joining the network: what stands fixed about these findings, and who judges them.</summary>
internal static class JoiningFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("provisioning-failed", Severity.Fault,
            "provisioning fails",
            "a Provisioning Failed PDU or a Link Close with reason timeout or fail; or 60 s of silence on a link that is not complete, where the chance that its end came and was missed is under 5 %, by what was heard of both ends so far: likely if the device goes on with its unprovisioned beacon, else possible; with that beacon possible under 30 %",
            "Bring provisioner and device nearer to each other, reset the device and try again.",
            "Mesh Protocol 1.1 §5.3.1.4.3, §5.4"),
        new("provisioning-repeats", Severity.Warning,
            "it hangs at the public key",
            "one provisioning transaction is sent four times or more",
            "Bring the two nearer to each other, and let both listen more of the time; else look for newer firmware: acknowledgments come late or not at all.",
            "Mesh Protocol 1.1 §5.3.3"),
        new("still-unprovisioned", Severity.Remark,
            "it joined, yet it blinks as new",
            "an unprovisioned device beacon with the UUID of a device more than 30 s after its provisioning was complete, or after it was heard as the node that the description knows by this UUID (possible where it says nothing as a node any more), and no Node Reset",
            "Reset the device and provision it again; see that no two units have the same UUID.",
            "Mesh Protocol 1.1 §3.10.2"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new ProvisioningFails(),
        new ProvisioningRepeats(),
        new StillUnprovisioned(),
    ];
}
