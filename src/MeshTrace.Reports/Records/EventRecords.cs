using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Records;

/// <summary><c>event</c> records: one event in the life of the network or of a node a line.</summary>
internal static class EventRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        LifecycleEvent one = history.Lifecycle[row];
        line.Begin("event"u8, row);
        line.Word("kind"u8, KindWord(one.Kind));
        line.Time("time"u8, one.TimeNs);
        line.Word("networkId"u8, one.Subnet < 0 ? null : history.Keys.Subnets[one.Subnet].NetworkId.ToString("x16", System.Globalization.CultureInfo.InvariantCulture));
        line.Number("netKeyIndex"u8, one.Subnet < 0 ? null : history.Keys.Subnets[one.Subnet].NetKeyIndex);
        line.Address("node"u8, one.Node);
        line.Word("says"u8, one.Says);
        line.StartArray("evidence"u8);
        line.Json.WriteStartObject();
        line.Word("record"u8, one.Record);
        line.Number("index"u8, one.Row + 1);
        line.Json.WriteEndObject();
        line.EndArray();
        line.End();
    }

    internal static string KindWord(LifecycleKind kind) => kind switch
    {
        LifecycleKind.IvUpdateInProgress => "iv-update-in-progress",
        LifecycleKind.IvUpdateFinished => "iv-update-finished",
        LifecycleKind.IvIndexChanged => "iv-index-changed",
        LifecycleKind.KeyHandedOut => "key-handed-out",
        LifecycleKind.KeyRefreshPhase => "key-refresh-phase",
        LifecycleKind.NodeReset => "node-reset",
        LifecycleKind.KeyDeleted => "key-deleted",
        LifecycleKind.PrivateBeacons => "private-beacons",
        LifecycleKind.DirectedForwarding => "directed-forwarding",
        LifecycleKind.FriendshipBegun => "friendship-begun",
        LifecycleKind.FriendshipCleared => "friendship-cleared",
        LifecycleKind.UnprovisionedBeacon => "unprovisioned-beacon",
        LifecycleKind.ProvisioningBegun => "provisioning-begun",
        LifecycleKind.Provisioned => "provisioned",
        LifecycleKind.ProvisioningFailed => "provisioning-failed",
        LifecycleKind.CompositionTold => "composition-told",
        LifecycleKind.KeyAdded => "key-added",
        LifecycleKind.KeyBound => "key-bound",
        LifecycleKind.KeyUnbound => "key-unbound",
        LifecycleKind.SubscriptionChanged => "subscription-changed",
        LifecycleKind.PublicationSet => "publication-set",
        LifecycleKind.FeatureSet => "feature-set",
        LifecycleKind.SettingChanged => "setting-changed",
        LifecycleKind.ConfigurationRefused => "configuration-refused",
        _ => throw new ArgumentOutOfRangeException(nameof(kind)),
    };
}
