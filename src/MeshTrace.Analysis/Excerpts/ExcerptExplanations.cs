using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Excerpts;

/// <summary>
/// Takes what explains the frames taken so far, until nothing more is needed: transfers whole, the beacon before, friendships, what handed out keys, the
/// configuration, connections from their beginning.
/// </summary>
internal sealed class ExcerptExplanations(CaptureHistory history, ExcerptSelection selection, ExcerptFloods floods)
{
    /// <summary>Opcodes of control messages (Mesh Protocol 1.1 §3.6.5).</summary>
    private const uint FriendRequest = 0x03, FriendOffer = 0x04;

    /// <summary>Explanations need explanations of their own (a key under a key); no network needs more rounds than this.</summary>
    private const int MostRounds = 16;

    private readonly HashSet<int> _subnets = [], _connections = [];
    private readonly HashSet<int> _appKeys = [], _labels = [];
    private readonly HashSet<ushort> _deviceKeys = [];
    private bool _friendships;

    /// <summary>Takes what is needed.</summary>
    /// <param name="presses">Presses that are to keep their verdict.</param>
    /// <param name="nodes">Primary addresses of the nodes that take part.</param>
    public void Run(IReadOnlyList<int> presses, HashSet<MeshAddress> nodes)
    {
        TakeConfiguration(presses, nodes);
        bool more = true;
        for (int round = 0; more && round < MostRounds; round++)
        {
            more = TakeTransfers();
            Survey();
            more |= TakeFriendships(nodes);
            more |= TakeKeys();
            more |= TakeConnections();
        }
        TakeBeacons();
    }

    /// <summary>Of every transfer of which a part was taken: all segments and acknowledgments.</summary>
    private bool TakeTransfers()
    {
        var transfers = new HashSet<int>();
        ForEachFlood(flood =>
        {
            if (history.Floods[flood].Transfer is { } transfer)
                transfers.Add(transfer);
        });
        bool more = false;
        foreach (int row in transfers)
        {
            Transfer transfer = history.Transfers[row];
            foreach (SegmentSent sent in transfer.Sent)
                more |= floods.Take(sent.Flood, ExcerptReason.Transfer);
            foreach (BlockAcknowledgment ack in transfer.Acks)
                more |= floods.Take(ack.Flood, ExcerptReason.Transfer);
        }
        return more;
    }

    /// <summary>Which keys and connections the frames taken so far use.</summary>
    private void Survey()
    {
        ForEachFlood(row =>
        {
            ref FloodRow flood = ref history.Floods[row];
            _subnets.Add(flood.Subnet);
            _friendships |= flood.Credentials == Credentials.Friendship;
            if ((flood.HeardBy & ~Bearers.Advertising) != 0)
                foreach (FloodCopy copy in history.CopiesOf(row))
                    if (history.Frames[copy.Frame].Connection is { } connection)
                        _connections.Add(connection);
            if (flood.Message is not { } message)
                return;
            ref MessageRow opened = ref history.Messages[message];
            if (opened.AppKey >= 0)
                _appKeys.Add(opened.AppKey);
            if (opened.Label >= 0)
                _labels.Add(opened.Label);
            if (opened.DeviceKeyOf.IsUnicast)
                _deviceKeys.Add(opened.DeviceKeyOf.Value);
        });
    }

    private bool TakeFriendships(HashSet<MeshAddress> nodes)
    {
        bool more = false;
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl && message.Opcode.Value is FriendRequest or FriendOffer && _subnets.Contains(message.Subnet)
                && (_friendships || nodes.Contains(history.Directory.NodeOf(message.Src)) || nodes.Contains(history.Directory.NodeOf(message.Dst))))
                more |= floods.TakeMessage(row, ExcerptReason.Friendship);
        }
        return more;
    }

    /// <summary>Messages and provisionings that handed out what was not given otherwise.</summary>
    private bool TakeKeys()
    {
        var needed = new HashSet<Guid>();       // 16 octets each
        bool provisioning = false;
        foreach (int row in _subnets)
            Need(history.Keys.Subnets[row].Origin, history.Keys.Subnets[row].Material.Octets);
        foreach (int row in _appKeys)
            Need(history.Keys.AppKeys[row].Origin, history.Keys.AppKeys[row].Material.Octets);
        foreach (int row in _labels)
            needed.Add(history.Keys.Labels[row].Uuid);
        foreach (DeviceKey key in history.Keys.DeviceKeys)
            provisioning |= key.Origin == KeyOrigin.Provisioning && _deviceKeys.Contains(key.Node.Value);
        bool more = false;
        if (needed.Count > 0)
        {
            for (int row = 0; row < history.Messages.Count; row++)
                if (HandsOut(row, needed))
                    more |= floods.TakeMessage(row, ExcerptReason.Key);
        }
        for (int frame = 0; provisioning && frame < history.Frames.Count; frame++)
        {
            ref FrameRow row = ref history.Frames[frame];
            if ((row.Carries & (Carries.ProvisioningBearer | Carries.UnprovisionedBeacon)) != 0)
                more |= selection.Take(frame, ExcerptReason.Key);
            else if ((row.Carries & Carries.GattProvisioning) != 0 && row.Connection is { } connection)
                more |= _connections.Add(connection);
        }
        return more;

        void Need(KeyOrigin origin, ReadOnlySpan<byte> octets)
        {
            provisioning |= origin == KeyOrigin.Provisioning;
            if (origin == KeyOrigin.ConfigMessage)
                needed.Add(new Guid(octets, bigEndian: true));
        }
    }

    private bool HandsOut(int row, HashSet<Guid> needed)
    {
        const int keyOctets = 16, keyAt = 4;    // in all these messages, as KeyLearner reads them
        ref MessageRow message = ref history.Messages[row];
        return !message.IsControl && message.Key == MessageKey.Device && message.Opcode.Value is 0x00 or 0x01 or 0x8040 or 0x8045 or 0x8020 or 0x8021 or 0x8022 or 0x801A
            && history.PayloadOf(row) is { Length: >= keyAt + keyOctets } payload && needed.Contains(new Guid(payload.Slice(keyAt, keyOctets), bigEndian: true));
    }

    /// <summary>Changes of the nodes that take part, and of those whose subscription to what was pressed was changed.</summary>
    private void TakeConfiguration(IReadOnlyList<int> presses, HashSet<MeshAddress> nodes)
    {
        if (history.Configuration is not { } configuration)
            return;
        var destinations = new HashSet<MeshAddress>(presses.Select(press => history.Presses[press].Dst));
        foreach (MeshAddress node in configuration.Nodes)
        {
            IReadOnlyList<ConfigChange> changes = configuration.OfNode(node);
            if (!nodes.Contains(node) && !changes.Any(change => destinations.Contains(change.Address.Address) || change.Addresses.Any(destinations.Contains)))
                continue;
            foreach (ConfigChange change in changes)
            {
                if (change.Request >= 0)
                    floods.TakeMessage(change.Request, ExcerptReason.Configuration);
                if (change.Status >= 0)
                    floods.TakeMessage(change.Status, ExcerptReason.Configuration);
            }
        }
    }

    /// <summary>A connection is read from its beginning: what is where in it was told there.</summary>
    private bool TakeConnections()
    {
        if (_connections.Count == 0)
            return false;
        bool more = false;
        for (int frame = 0; frame <= selection.LastFrame; frame++)
            if (history.Frames[frame].Connection is { } connection && _connections.Contains(connection))
                more |= selection.Take(frame, ExcerptReason.Connection);
        return more;
    }

    /// <summary>Of each subnet in use: the last beacon that authenticates before the first flood taken, else the first one behind it.</summary>
    private void TakeBeacons()
    {
        foreach (int subnet in _subnets)
        {
            int first = FirstFrameOf(subnet), before = -1, behind = int.MaxValue;
            foreach (BeaconRecord beacon in history.Beacons)
            {
                if (beacon.Subnet != subnet || beacon.Authenticated != true)
                    continue;
                int at = beacon.Frames.BinarySearch(first);
                at = at < 0 ? ~at : at;
                if (at > 0)
                    before = Math.Max(before, beacon.Frames[at - 1]);
                if (at < beacon.Frames.Count)
                    behind = Math.Min(behind, beacon.Frames[at]);
            }
            if (before >= 0 || behind < int.MaxValue)
                selection.Take(before >= 0 ? before : behind, ExcerptReason.Beacon);
        }
    }

    private int FirstFrameOf(int subnet)
    {
        for (int frame = 0; frame < selection.Of; frame++)
            if (selection[frame] is ExcerptReason.Time or ExcerptReason.Subject && history.FloodOf(frame) is { } flood && history.Floods[flood].Subnet == subnet)
                return frame;
        return selection.Of;
    }

    private void ForEachFlood(Action<int> take)
    {
        int further = 0;
        for (int frame = 0; frame < selection.Of; frame++)
        {
            bool taken = selection[frame] != ExcerptReason.None;
            if (taken && history.FloodOf(frame) is { } flood)
                take(flood);
            for (; further < history.FurtherContents.Count && history.FurtherContents[further].Frame == frame; further++)
                if (taken && history.ContentFlood(history.FurtherContents[further].Content) is var other and >= 0)
                    take(other);
        }
    }
}
