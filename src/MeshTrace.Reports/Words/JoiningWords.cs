using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Reports.Words;

/// <summary>How a provisioning went, in a line.</summary>
internal static class JoiningWords
{
    public static string Of(ProvisioningLink link)
    {
        string device = link.DeviceUuid is { } uuid ? $"device {uuid}" : "a device";
        string outcome = link.Outcome switch
        {
            ProvisioningOutcome.Complete => "provisioned" + (link.Unicast is { } unicast ? $" as {unicast}" : ""),
            ProvisioningOutcome.Failed => "provisioning failed",
            ProvisioningOutcome.Closed => "the link was closed before provisioning was complete",
            _ => "the end of provisioning was not heard",
        };
        string bearer = link.BearerName is { } name ? $" over {name}" : "";
        string reason = SafeText.Strip(link.Reason, 200) is { Length: > 0 } why ? $" ({why})" : "";
        string last = link.Outcome != ProvisioningOutcome.Complete && link.Pdus.Count > 0 ? $"; last PDU heard: {link.Pdus[^1].Name}" : "";
        string keys = link.KeysLearnt ? "; its keys were learnt from it" : "";
        return $"{Phrases.Clock(link.FirstTimeNs)}  {device}{bearer}: {outcome}{reason}{last}{keys}";
    }

    public static string MarkOf(ProvisioningOutcome outcome) => outcome switch
    {
        ProvisioningOutcome.Complete => "OK",
        ProvisioningOutcome.Failed => "FAIL",
        ProvisioningOutcome.Closed => "PART",
        _ => "?",
    };

    public static Tone ToneOf(ProvisioningOutcome outcome) => outcome switch
    {
        ProvisioningOutcome.Complete => Tone.Good,
        ProvisioningOutcome.Failed => Tone.Bad,
        ProvisioningOutcome.Closed => Tone.Mixed,
        _ => Tone.Quiet,
    };
}
