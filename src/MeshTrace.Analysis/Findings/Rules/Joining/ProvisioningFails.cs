using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Findings.Rules.Joining;

/// <summary>A provisioning that was broken off, or does not go on (Mesh Protocol 1.1 §5.3, §5.4).</summary>
internal sealed class ProvisioningFails : IFindingRule
{
    /// <summary>Longest silence of a link that goes on: then both ends close it (§5.4.4, from memory).</summary>
    private const long SilenceNs = 60_000_000_000;

    /// <summary>A next PDU would have come in this time (ours); and of the whole silence so much may be deaf (ours).</summary>
    private const long NextPduNs = 10_000_000_000;
    private const double MostDeaf = 0.3;

    /// <summary>Where nothing but the silence tells, the end has to be this unlikely to have been missed (ours).</summary>
    private const double MostBySilenceAlone = 0.001;

    /// <summary>A beacon so long after the link's last sign of life says that the device is in no network (ours).</summary>
    private const double BeaconAfterSeconds = 5;

    public string Id => "provisioning-failed";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var told = new Dictionary<(Guid? Uuid, uint LinkId, string Why), List<(int Row, Confidence Confidence)>>();
        for (int row = 0; row < history.Provisionings.Count; row++)
        {
            ProvisioningLink link = history.Provisionings[row];
            if (Judge(history, link) is not { } confidence)
                continue;
            var key = (link.DeviceUuid, link.DeviceUuid is null ? link.LinkId : 0, Why(link));
            if (!told.TryGetValue(key, out List<(int Row, Confidence Confidence)>? links))
                told.Add(key, links = []);
            links.Add((row, confidence));
        }
        foreach (((_, _, string why), List<(int Row, Confidence Confidence)> links) in told)
        {
            ProvisioningLink link = history.Provisionings[links[0].Row];
            string often = links.Count > 1 ? $", {Wording.Times(links.Count)}" : "";
            findings.Add(Id, links.Max(one => one.Confidence), link.LastTimeNs, Device.NodeOf(history, link), null,
                $"Provisioning of {Device.Called(history, link)} {(link.Outcome == ProvisioningOutcome.Failed ? "failed" : "did not come to its end")}{often}: {why}.",
                [.. links.Select(one => new Evidence("provisioning", one.Row))], RemedyOf(link));
        }
    }

    private static Confidence? Judge(CaptureHistory history, ProvisioningLink link)
    {
        if (link.Outcome == ProvisioningOutcome.Failed)
            return Confidence.Certain;
        // A silent end counts where the bearer would go on being heard: not over a connection, which may have left the recording.
        if (link.Outcome != ProvisioningOutcome.Unfinished || !link.IsPbAdv || link.LastTimeNs == CapturedFrame.NoTime || history.TimeSpanNs is not { } span
            || Wording.Seconds(link.LastTimeNs, span.Last) < SilenceNs / 1e9 || IsDeaf(history, link.LastTimeNs) || HasJoined(history, link))
            return null;
        // Nothing further heard is not nothing sent: an end has to be something that would have been heard.
        double missed = LinkProgress.ChanceEndWasMissed(link);
        bool isOutside = link.DeviceUuid is { } uuid && Device.LastBeacon(history, uuid) is >= 0 and var beacon
            && Wording.Seconds(link.LastTimeNs, history.Beacons[beacon].LastTimeNs) > BeaconAfterSeconds;
        return Weighing.Of(missed) switch
        {
            Confidence.Likely when isOutside => Confidence.Likely,
            Confidence.Likely when missed < MostBySilenceAlone => Confidence.Possible,
            Confidence.Possible when isOutside => Confidence.Possible,
            _ => null,
        };
    }

    /// <summary>The next PDU is due within seconds, and its repetitions for half a minute.</summary>
    private static bool IsDeaf(CaptureHistory history, long timeNs) =>
        history.Deafness.IsDeaf(timeNs, timeNs + NextPduNs) || history.Deafness.DeafShareOf(timeNs, timeNs + SilenceNs) > MostDeaf;

    /// <summary>The end was missed: the device speaks as a node afterwards.</summary>
    private static bool HasJoined(CaptureHistory history, ProvisioningLink link) =>
        Device.NodeOf(history, link) is { } node && history.Nodes.Any(record => record.Unicast == node && record.LastTimeNs > link.LastTimeNs);

    private static string Why(ProvisioningLink link)
    {
        if (ErrorOf(link) is { } error)
            return $"{ProvisioningWords.Of(error)}{After(link)}";
        return link.Reason ?? "nothing further heard before the first provisioning PDU";
    }

    /// <summary>What had been said before the device gave up.</summary>
    private static string After(ProvisioningLink link) =>
        link.Pdus.LastOrDefault(pdu => pdu.Type != (byte)ProvisioningPduType.Failed) is { } last ? $", after {last.Name}" : "";

    private static ProvisioningError? ErrorOf(ProvisioningLink link) =>
        link.Pdus.LastOrDefault(pdu => pdu.Type == (byte)ProvisioningPduType.Failed) is { } failed && ProvisioningFailed.TryRead(failed.Octets, out ProvisioningFailed pdu, out _)
            ? pdu.ErrorCode : null;

    private static string? RemedyOf(ProvisioningLink link) => ErrorOf(link) switch
    {
        ProvisioningError.ConfirmationFailed => "Enter the out-of-band value that belongs to this device, and see that both ends use the same method for it.",
        ProvisioningError.OutOfResources => "Reset the device or free room in it: it has none left for another network.",
        ProvisioningError.DecryptionFailed => "Try again; if it comes back, one end computes keys differently: look at its firmware.",
        ProvisioningError.CannotAssignAddresses or ProvisioningError.InvalidData => "Give it another address: the range that it was given does not fit its elements, or the data are not valid.",
        ProvisioningError.InvalidPdu or ProvisioningError.InvalidFormat or ProvisioningError.UnexpectedPdu or ProvisioningError.Prohibited =>
            "Look at the provisioner's version: it sends what this device does not understand.",
        ProvisioningError.UnexpectedError => "Restart the device and try again.",
        _ => link.Close == LinkCloseReason.Timeout || link.Outcome == ProvisioningOutcome.Unfinished
            ? "Bring provisioner and device nearer to each other and try again; see that the device keeps its power." : null,
    };
}
