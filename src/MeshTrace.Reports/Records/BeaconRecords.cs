using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Records;

/// <summary><c>beacon</c> records: one distinct beacon content a line.</summary>
internal static class BeaconRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        BeaconRecord beacon = history.Beacons[row];
        line.Begin("beacon"u8, row);
        line.Word("kind"u8, beacon.Kind switch
        {
            BeaconKind.Secure => "secure"u8,
            BeaconKind.Private => "private"u8,
            _ => "unprovisioned"u8,
        });
        line.Word("networkId"u8, beacon.NetworkId);
        line.Number("netKeyIndex"u8, beacon.Subnet < 0 ? null : history.Keys.Subnets[beacon.Subnet].NetKeyIndex);
        line.Number("ivIndex"u8, beacon.IvIndex);
        line.Flag("keyRefresh"u8, beacon.KeyRefresh);
        line.Flag("ivUpdate"u8, beacon.IvUpdate);
        line.Uuid("deviceUuid"u8, beacon.DeviceUuid);
        line.Number("oobInformation"u8, beacon.OobInformation);
        line.Number("uriHash"u8, beacon.UriHash);
        line.Flag("authenticated"u8, beacon.Authenticated);
        line.Number("count"u8, beacon.Count);
        line.Time("firstTime"u8, beacon.FirstTimeNs);
        line.Time("lastTime"u8, beacon.LastTimeNs);
        line.Rows("frames"u8, beacon.Frames);
        line.End();
    }
}
