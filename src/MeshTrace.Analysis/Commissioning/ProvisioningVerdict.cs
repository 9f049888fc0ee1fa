using System.Globalization;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Says how a provisioning link ended, as far as the air tells.</summary>
internal static class ProvisioningVerdict
{
    /// <summary>Complete is complete whatever closes the link; else failed wins over closed; else it is unfinished.</summary>
    public static void Decide(ProvisioningLink link)
    {
        string last = link.Pdus.Count == 0 ? "before the first provisioning PDU" : $"after {link.Pdus[^1].Name}";
        if (link.WrongFcs > 0)
            last += string.Create(CultureInfo.InvariantCulture, $" ({link.WrongFcs} PDU{(link.WrongFcs == 1 ? "" : "s")} with a wrong frame check sequence)");
        if (link.Pdus.Any(pdu => pdu.Type == (byte)ProvisioningPduType.Complete))
            (link.Outcome, link.Reason) = (ProvisioningOutcome.Complete, null);
        else if (link.Pdus.LastOrDefault(pdu => pdu.Type == (byte)ProvisioningPduType.Failed) is { } failed)
            (link.Outcome, link.Reason) = (ProvisioningOutcome.Failed,
                ProvisioningFailed.TryRead(failed.Octets, out ProvisioningFailed pdu, out _) ? ProvisioningWords.Of(pdu.ErrorCode) : "the device gave no readable reason");
        else if (link.Close is LinkCloseReason.Timeout or LinkCloseReason.Fail)
            (link.Outcome, link.Reason) = (ProvisioningOutcome.Failed, $"link closed: {ProvisioningWords.Of(link.Close.Value)}, {last}");
        else if (link.Close is { } reason)
            (link.Outcome, link.Reason) = (ProvisioningOutcome.Closed, $"link closed: {ProvisioningWords.Of(reason)}, {last}");
        else
            (link.Outcome, link.Reason) = (ProvisioningOutcome.Unfinished, $"nothing further heard {last}");
    }
}
