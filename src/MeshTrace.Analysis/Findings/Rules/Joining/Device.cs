using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Joining;

/// <summary>What is known of the device at one end of a provisioning link.</summary>
internal static class Device
{
    /// <summary>The node that it is or became, or null.</summary>
    public static MeshAddress? NodeOf(CaptureHistory history, ProvisioningLink link) =>
        link.Unicast ?? (link.DeviceUuid is { } uuid ? history.Directory.Description?.NodeWith(uuid)?.Unicast : null);

    public static string Called(CaptureHistory history, ProvisioningLink link) =>
        NodeOf(history, link) is { } node && history.Directory.NameOf(node) is not null ? history.Called(node)
        : link.DeviceUuid is { } uuid ? $"device {uuid}" : "a device";

    /// <summary>The row of its unprovisioned device beacon that was heard last, or -1.</summary>
    public static int LastBeacon(CaptureHistory history, Guid uuid)
    {
        int last = -1;
        for (int row = 0; row < history.Beacons.Count; row++)
            if (history.Beacons[row] is { Kind: BeaconKind.Unprovisioned } beacon && beacon.DeviceUuid == uuid && (last < 0 || beacon.LastTimeNs > history.Beacons[last].LastTimeNs))
                last = row;
        return last;
    }
}
