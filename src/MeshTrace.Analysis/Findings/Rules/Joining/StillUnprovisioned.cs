using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Joining;

/// <summary>A device that joined goes on sending the beacon of one that is in no network (Mesh Protocol 1.1 §3.10.2).</summary>
internal sealed class StillUnprovisioned : IFindingRule
{
    /// <summary>It may take a moment to stop (ours).</summary>
    private const double LateSeconds = 30;

    public string Id => "still-unprovisioned";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var told = new HashSet<Guid>();
        for (int row = 0; row < history.Provisionings.Count; row++)
        {
            ProvisioningLink link = history.Provisionings[row];
            if (link.Outcome != ProvisioningOutcome.Complete || link.DeviceUuid is not { } uuid || link.EndNs == CapturedFrame.NoTime || told.Contains(uuid))
                continue;
            if (Device.LastBeacon(history, uuid) is not (>= 0 and var beacon) || Wording.Seconds(link.EndNs, history.Beacons[beacon].LastTimeNs) is not (> LateSeconds and var late)
                || WasReset(history, link) || IsProvisionedAnew(history, row, uuid))
                continue;
            told.Add(uuid);
            findings.Add(Id, Confidence.Likely, history.Beacons[beacon].LastTimeNs, Device.NodeOf(history, link), null,
                $"{Device.Called(history, link)} still sends beacons of a device in no network {Wording.Span(late)} after it joined: it did not keep what it was given, or another unit has the same UUID.",
                [new Evidence("provisioning", row), new Evidence("beacon", beacon)]);
        }
        ExamineNodes(history, findings, told);
    }

    /// <summary>Its joining may have been missed, or lie before the capture: it speaks as the node that the description knows by this UUID.</summary>
    private void ExamineNodes(CaptureHistory history, FindingSink findings, HashSet<Guid> told)
    {
        foreach (Guid uuid in history.Beacons.Where(one => one.Kind == BeaconKind.Unprovisioned).Select(one => one.DeviceUuid).OfType<Guid>().Distinct())
        {
            if (history.Directory.Description?.NodeWith(uuid)?.Unicast is not { } node || Device.LastBeacon(history, uuid) is not (>= 0 and var beacon)
                || history.Nodes.FirstOrDefault(one => one.Unicast == node) is not { FirstTimeNs: { } since, LastTimeNs: { } last }
                || Wording.Seconds(since, history.Beacons[beacon].LastTimeNs) is not (> LateSeconds and var late) || WasReset(history, node, since)
                || JoinsLater(history, uuid, history.Beacons[beacon].LastTimeNs) || !told.Add(uuid))
                continue;
            findings.Add(Id, last > history.Beacons[beacon].LastTimeNs ? Confidence.Likely : Confidence.Possible, history.Beacons[beacon].LastTimeNs, node, null,
                $"{history.Called(node)} still sends beacons of a device in no network {Wording.Span(late)} after it was heard as a node: it did not keep what it was given, or another unit has the same UUID.",
                [new Evidence("beacon", beacon)]);
        }
    }

    /// <summary>It was taken out of the network again.</summary>
    private static bool WasReset(CaptureHistory history, ProvisioningLink link) =>
        Device.NodeOf(history, link) is { } node && WasReset(history, node, link.EndNs);

    private static bool WasReset(CaptureHistory history, MeshAddress node, long sinceNs) =>
        history.Lifecycle.Any(one => one.Kind == LifecycleKind.NodeReset && one.Node == node && one.TimeNs > sinceNs);

    private static bool JoinsLater(CaptureHistory history, Guid uuid, long timeNs) =>
        history.Provisionings.Any(link => link.Outcome == ProvisioningOutcome.Complete && link.DeviceUuid == uuid && link.EndNs > timeNs);

    /// <summary>A later link tells of the beacons in between.</summary>
    private static bool IsProvisionedAnew(CaptureHistory history, int row, Guid uuid)
    {
        for (int later = row + 1; later < history.Provisionings.Count; later++)
            if (history.Provisionings[later] is { Outcome: ProvisioningOutcome.Complete } link && link.DeviceUuid == uuid)
                return true;
        return false;
    }
}
