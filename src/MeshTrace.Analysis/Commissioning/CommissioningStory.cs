using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Who joined and how each was set up, and what is missing for the configured groups to work.</summary>
public sealed class CommissioningStory
{
    private CommissioningStory(IReadOnlyList<NodeStory> devices, IReadOnlyList<SetupGap> gaps) => (Devices, Gaps) = (devices, gaps);

    /// <summary>Devices that were heard to be unprovisioned, to join, or to be configured, in that order of time.</summary>
    public IReadOnlyList<NodeStory> Devices { get; }

    /// <summary>What is missing, by the last known configuration.</summary>
    public IReadOnlyList<SetupGap> Gaps { get; }

    internal static CommissioningStory Of(CaptureHistory history)
    {
        var devices = new Dictionary<Guid, Device>();
        var nodes = new Dictionary<ushort, Device>();
        for (int row = 0; row < history.Beacons.Count; row++)
            if (history.Beacons[row] is { Kind: BeaconKind.Unprovisioned, DeviceUuid: { } uuid })
                DeviceOf(uuid).Beacon ??= row;
        for (int row = 0; row < history.Provisionings.Count; row++)
            TakeLink(row, history.Provisionings[row]);
        foreach (MeshAddress node in history.Configuration!.Nodes)
            NodeOf(node);
        foreach (LifecycleEvent one in history.Lifecycle)
            if (one.Node is { } node && nodes.TryGetValue(node.Value, out Device? device))
                device.Events.Add(one);
            else if (one is { Record: "provisioning" } && history.Provisionings[one.Row].DeviceUuid is { } uuid && devices.TryGetValue(uuid, out device))
                device.Events.Add(one);
            else if (one is { Kind: LifecycleKind.UnprovisionedBeacon } && history.Beacons[one.Row].DeviceUuid is { } beacon && devices.TryGetValue(beacon, out device))
                device.Events.Add(one);
        IEnumerable<Device> all = devices.Values.Concat(nodes.Values).Distinct();
        return new CommissioningStory([.. all.Select(device => device.Tell(history)).OrderBy(story => story.Events.Count == 0 ? long.MaxValue : story.Events[0].TimeNs)], new SetupCheck(history).Run());

        Device DeviceOf(Guid uuid)
        {
            if (devices.TryGetValue(uuid, out Device? device))
                return device;
            devices.Add(uuid, device = new Device { Uuid = uuid });
            if (history.Directory.Description?.NodeWith(uuid) is { } described)
            {
                device.Node = described.Unicast;
                nodes.TryAdd(described.Unicast.Value, device);
            }
            return device;
        }

        Device NodeOf(MeshAddress node)
        {
            if (nodes.TryGetValue(node.Value, out Device? device))
                return device;
            nodes.Add(node.Value, device = new Device { Node = node });
            return device;
        }

        void TakeLink(int row, ProvisioningLink link)
        {
            Device device = link.DeviceUuid is { } uuid ? DeviceOf(uuid) : link.Unicast is { } address ? NodeOf(address) : new Device();
            device.Links.Add(row);
            if (link.Outcome != ProvisioningOutcome.Complete)
                return;
            device.JoinedBy = row;
            if (link.Unicast is { } joined)
            {
                device.Node = joined;
                nodes[joined.Value] = device;
            }
        }
    }

    /// <summary>What is gathered about one device.</summary>
    private sealed class Device
    {
        public Guid? Uuid { get; init; }
        public MeshAddress? Node { get; set; }
        public int? Beacon { get; set; }
        public List<int> Links { get; } = [];
        public int? JoinedBy { get; set; }
        public List<LifecycleEvent> Events { get; } = [];

        public NodeStory Tell(CaptureHistory history)
        {
            ConfigChange[] changes = Node is { } node ? [.. history.Configuration!.OfNode(node).Where(change => change.Standing != ConfigStanding.Refused)] : [];
            ProvisioningLink? link = JoinedBy is { } row ? history.Provisionings[row] : null;
            bool timed = link is not null && link.FirstTimeNs != CapturedFrame.NoTime && link.EndNs != CapturedFrame.NoTime;
            return new NodeStory
            {
                Node = Node, DeviceUuid = Uuid ?? DescribedUuid(history.Directory.Description), Beacon = Beacon, Links = Links, JoinedBy = JoinedBy,
                ProvisioningMs = timed ? (link!.EndNs - link.FirstTimeNs) / 1e6 : null,
                Events = Events, CompositionTold = Told(ConfigKind.Composition), AppKeyAdded = Told(ConfigKind.AppKeyAdded), KeyBound = Told(ConfigKind.KeyBound),
                LastConfigurationNs = changes.Length == 0 ? null : changes.Max(change => change.StatusTimeNs ?? change.TimeNs),
            };

            bool Told(ConfigKind kind) => Array.Exists(changes, change => change.Kind == kind);
        }

        private Guid? DescribedUuid(NetworkDescription? description) => Node is { } node ? description?.NodeAt(node)?.Uuid : null;
    }
}
