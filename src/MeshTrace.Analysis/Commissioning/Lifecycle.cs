using System.Buffers.Binary;
using System.Globalization;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Finds the events in the life of the network: IV update, key refresh, keys and nodes removed, private beacons, friendships.</summary>
internal sealed class Lifecycle(CaptureHistory history)
{
    private readonly List<LifecycleEvent> _events = [];

    public List<LifecycleEvent> Run()
    {
        TakeBeacons();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl)
                TakeControl(row, in message, history.PayloadOf(row));
            else if (message.Decrypted && message.Key == MessageKey.Device)
                TakeConfig(row, in message, history.PayloadOf(row));
        }
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

    private void TakeConfig(int row, in MessageRow message, ReadOnlySpan<byte> payload)
    {
        MeshAddress asked = message.Dst;
        switch (message.Opcode.Value)
        {
            case 0x8045 when payload.Length >= 4:   // Config NetKey Update
                Add(in message, LifecycleKind.KeyHandedOut, asked, $"key refresh, phase 1: new NetKey {Index(payload[2..])} handed out", row);
                break;
            case 0x01 when payload.Length >= 4:     // Config AppKey Update
                int both = payload[1] | (payload[2] << 8) | (payload[3] << 16);
                Add(in message, LifecycleKind.KeyHandedOut, asked, $"key refresh, phase 1: new AppKey {both >> 12} handed out", row);
                break;
            case 0x8016 when payload.Length == 5:   // Config Key Refresh Phase Set
                Add(in message, LifecycleKind.KeyRefreshPhase, asked, $"asked to go to key refresh transition {payload[4]} of NetKey {Index(payload[2..])}", row);
                break;
            case 0x8017 when payload.Length == 6 && payload[2] == 0:    // Config Key Refresh Phase Status
                Add(in message, LifecycleKind.KeyRefreshPhase, message.Src, $"is in key refresh phase {payload[5]} of NetKey {Index(payload[3..])}", row);
                break;
            case 0x8041 when payload.Length == 4:   // Config NetKey Delete
                Add(in message, LifecycleKind.KeyDeleted, asked, $"asked to delete NetKey {Index(payload[2..])}", row);
                break;
            case 0x8000 when payload.Length == 5:   // Config AppKey Delete
                Add(in message, LifecycleKind.KeyDeleted, asked, $"asked to delete AppKey {(payload[2] | (payload[3] << 8) | (payload[4] << 16)) >> 12}", row);
                break;
            case 0x8049:                            // Config Node Reset
                Add(in message, LifecycleKind.NodeReset, asked, "asked to leave the network (node reset)", row);
                break;
            case 0x804A:                            // Config Node Reset Status
                Add(in message, LifecycleKind.NodeReset, message.Src, "leaves the network (node reset confirmed)", row);
                break;
        }
    }

    private void TakeControl(int row, in MessageRow message, ReadOnlySpan<byte> parameters)
    {
        const uint friendOffer = 0x04, friendClear = 0x05;
        if (message.Opcode.Value == friendOffer)
            Add(in message, LifecycleKind.FriendshipBegun, message.Dst, $"is offered a friendship by {message.Src}", row);
        else if (message.Opcode.Value == friendClear && parameters.Length == 4)
            Add(in message, LifecycleKind.FriendshipCleared, new MeshAddress(BinaryPrimitives.ReadUInt16BigEndian(parameters)), $"has a new Friend: {message.Src} tells {message.Dst}", row);
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

    private static int Index(ReadOnlySpan<byte> octets) => BinaryPrimitives.ReadUInt16LittleEndian(octets) & 0xFFF;
}
