using System.Buffers.Binary;
using System.Globalization;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>
/// Finds the events in the life of the network, in order of time: devices that join, their configuration step by step, IV update, key refresh, keys and
/// nodes removed, private beacons, friendships.
/// </summary>
internal sealed class Lifecycle(CaptureHistory history)
{
    private readonly List<LifecycleEvent> _events = [];
    private readonly List<(long TimeNs, int Row, bool IsOffer)> _friendships = [];

    public List<LifecycleEvent> Run()
    {
        TakeBeacons();
        TakeDirectedForwarding();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl)
                TakeControl(row, in message, history.PayloadOf(row));
        }
        TakeFriendships();
        TakeConfiguration();
        TakeProvisioning();
        return [.. _events.OrderBy(one => one.TimeNs)];
    }

    private void TakeBeacons()
    {
        var latest = new Dictionary<int, BeaconRecord>();
        var hidden = new HashSet<int>();
        foreach ((BeaconRecord beacon, int row) in history.Beacons.Select((beacon, row) => (beacon, row)).OrderBy(pair => pair.beacon.FirstTimeNs))
        {
            if (beacon.Authenticated != true)
                continue;
            if (beacon.Kind == BeaconKind.Private && hidden.Add(beacon.Subnet))
                Add(beacon.FirstTimeNs, LifecycleKind.PrivateBeacons, beacon.Subnet, null, $"private beacons are sent in {NameOf(beacon.Subnet)}", "beacon", row);
            latest.TryGetValue(beacon.Subnet, out BeaconRecord? before);
            latest[beacon.Subnet] = beacon;
            CompareBeacons(before, beacon, row);
        }
    }

    private void TakeDirectedForwarding()
    {
        var seen = new HashSet<int>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials == Credentials.Directed && seen.Add(flood.Subnet))
                Add(flood.FirstTimeNs, LifecycleKind.DirectedForwarding, flood.Subnet, null, $"directed forwarding is in use in {NameOf(flood.Subnet)}: PDUs under its directed security credentials are heard", "flood", row);
        }
    }

    private void CompareBeacons(BeaconRecord? before, BeaconRecord beacon, int row)
    {
        string index = "0x" + beacon.IvIndex!.Value.ToString("X8", CultureInfo.InvariantCulture), subnet = NameOf(beacon.Subnet);
        if (beacon.IvUpdate == true && before?.IvUpdate != true)
            Add(beacon.FirstTimeNs, LifecycleKind.IvUpdateInProgress, beacon.Subnet, null, $"IV update in progress towards {index} in {subnet}", "beacon", row);
        else if (before?.IvUpdate == true && beacon.IvUpdate == false)
            Add(beacon.FirstTimeNs, LifecycleKind.IvUpdateFinished, beacon.Subnet, null, $"IV update finished: IV index {index} in use in {subnet}", "beacon", row);
        else if (before is not null && before.IvIndex != beacon.IvIndex)
            Add(beacon.FirstTimeNs, LifecycleKind.IvIndexChanged, beacon.Subnet, null, $"a beacon tells IV index {index} in {subnet}", "beacon", row);
        if (beacon.KeyRefresh == true && before?.KeyRefresh != true)
            Add(beacon.FirstTimeNs, LifecycleKind.KeyRefreshPhase, beacon.Subnet, null, $"key refresh of {subnet} is in phase 2: nodes send with the new key", "beacon", row);
        else if (before?.KeyRefresh == true && beacon.KeyRefresh == false)
            Add(beacon.FirstTimeNs, LifecycleKind.KeyRefreshPhase, beacon.Subnet, null, $"key refresh of {subnet} is over: the old key is revoked", "beacon", row);
    }

    /// <summary>Whatever Config messages were heard to change, with what the node answered.</summary>
    private void TakeConfiguration()
    {
        foreach (ConfigChange change in history.Configuration?.Changes ?? [])
        {
            (LifecycleKind kind, string says) = ConfigWords.Of(change);
            Add(change.TimeNs, kind, history.Messages[change.Message].Subnet, change.Node, says, "message", change.Message);
        }
    }

    private void TakeProvisioning()
    {
        var heard = new HashSet<Guid>();
        for (int row = 0; row < history.Beacons.Count; row++)
            if (history.Beacons[row] is { Kind: BeaconKind.Unprovisioned, DeviceUuid: { } uuid } beacon && heard.Add(uuid))
                Add(beacon.FirstTimeNs, LifecycleKind.UnprovisionedBeacon, -1, null, $"a device in no network sends beacons: {uuid}", "beacon", row);
        for (int row = 0; row < history.Provisionings.Count; row++)
            TakeLink(row, history.Provisionings[row]);
    }

    private void TakeLink(int row, ProvisioningLink link)
    {
        string device = link.DeviceUuid is { } uuid ? $"device {uuid}" : "a device";
        string bearer = link.BearerName is { } name ? $" over {name}" : "";
        int subnet = link.KeysLearnt ? SubnetOf(link) : -1;
        Add(link.FirstTimeNs, LifecycleKind.ProvisioningBegun, subnet, null, $"provisioning of {device}{bearer} begins", "provisioning", row);
        if (link.Outcome == ProvisioningOutcome.Complete)
        {
            string address = link.Unicast is { } unicast ? $" as {unicast}" : "";
            string checkedWords = link.Confirmation switch { ConfirmationCheck.Right => ", the confirmations are right", ConfirmationCheck.Wrong => ", the confirmations fit no value given", _ => "" };
            string repeats = link.Retransmissions > 0 ? string.Create(CultureInfo.InvariantCulture, $", {link.Retransmissions} repetitions on the way") : "";
            Add(link.EndNs, LifecycleKind.Provisioned, subnet, link.Unicast,
                string.Create(CultureInfo.InvariantCulture, $"{device} joins the network{address}{bearer} after {Seconds(link):0.0} s{repeats}{checkedWords}"), "provisioning", row);
        }
        else
            Add(link.LastTimeNs, LifecycleKind.ProvisioningFailed, subnet, null, $"provisioning of {device}{bearer} ends without success: {link.Reason}", "provisioning", row);
    }

    private int SubnetOf(ProvisioningLink link)
    {
        for (int row = 0; row < history.Keys.Subnets.Count; row++)
            if (history.Keys.Subnets[row].NetKeyIndex == link.NetKeyIndex)
                return row;
        return -1;
    }

    private static double Seconds(ProvisioningLink link) =>
        link.FirstTimeNs == Protocol.Link.CapturedFrame.NoTime || link.EndNs == Protocol.Link.CapturedFrame.NoTime ? 0 : (link.EndNs - link.FirstTimeNs) / 1e9;

    private void TakeControl(int row, in MessageRow message, ReadOnlySpan<byte> parameters)
    {
        const uint friendUpdate = 0x02, friendOffer = 0x04, friendClear = 0x05;
        if (message.Opcode.Value is friendOffer or friendUpdate)
            _friendships.Add((message.TimeNs, row, message.Opcode.Value == friendOffer));
        else if (message.Opcode.Value == friendClear && parameters.Length == 4)
            Add(in message, LifecycleKind.FriendshipCleared, new MeshAddress(BinaryPrimitives.ReadUInt16BigEndian(parameters)), $"has a new Friend: {message.Src} tells {message.Dst}", row);
    }

    /// <summary>
    /// An offer is no friendship: that begins when the Low Power node has polled and its Friend answers with Friend Update (Mesh Protocol 1.1 §3.6.6.3.1). Later
    /// updates of the same friendship are nothing new.
    /// </summary>
    private void TakeFriendships()
    {
        var offered = new HashSet<(ushort Friend, ushort Lpn)>();
        foreach ((long _, int row, bool isOffer) in _friendships.OrderBy(one => one.TimeNs))
        {
            ref MessageRow message = ref history.Messages[row];
            if (isOffer)
                offered.Add((message.Src.Value, message.Dst.Value));
            else if (offered.Remove((message.Src.Value, message.Dst.Value)))
                Add(in message, LifecycleKind.FriendshipBegun, message.Dst, $"has {message.Src} as its Friend", row);
        }
    }

    private void Add(in MessageRow message, LifecycleKind kind, MeshAddress node, string says, int row) =>
        Add(message.TimeNs, kind, message.Subnet, history.Directory.NodeOf(node), says, "message", row);

    private void Add(long timeNs, LifecycleKind kind, int subnet, MeshAddress? node, string says, string record, int row) =>
        _events.Add(new LifecycleEvent(timeNs, kind, subnet, node, says, record, row));

    private string NameOf(int subnet)
    {
        Subnet known = history.Keys.Subnets[subnet];
        return known.Name is { Length: > 0 } name ? $"subnet {name}" : known.NetKeyIndex is { } index ? $"the subnet of NetKey {index}" : "the subnet";
    }
}
