using System.Globalization;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>What the network is made of, as described and as heard: nodes, groups, keys (never their octets), beacons, joinings, foreign networks.</summary>
internal sealed class NetworkScreen(Workspace workspace) : Screen(workspace)
{
    private enum Kind : byte
    {
        Node,
        Group,
        NetworkKey,
        ApplicationKey,
        Beacon,
        Joining,
        UnknownNetwork,
        Event,
    }

    private readonly record struct Thing(Kind Kind, int Row, MeshAddress Address = default);

    private readonly Grid _grid = new(new("what", 11, 11), new("name", 18, 38), new("address", 8, 8), new("heard", 34, 70));
    private List<Thing> _things = [];
    private MeshAddress? _node;

    public override string Name => "Network";
    public override string Asks => "What is this network made of?";
    protected override string? Reason => Workspace.IsSettled ? null : "The network needs the whole capture: still reading.";
    protected override string None => "Nothing of a mesh network was heard or described here.";
    public override double RowsShare => 0.5;

    public override IReadOnlyList<KeyWord> Keys => [new("Enter", IsNode ? "timeline" : "octets", "the timeline of the selected node; the octets of anything else"), new("k", "next kind", "to the first row of the next kind: nodes, groups, keys, beacons")];

    public override RecordPlace? Record => Selection is not { } thing ? null : thing.Kind switch
    {
        Kind.Node => new RecordPlace(RecordKind.Node, thing.Row),
        Kind.Beacon => new RecordPlace(RecordKind.Beacon, thing.Row),
        Kind.Joining => new RecordPlace(RecordKind.Provisioning, thing.Row),
        _ => null,
    };

    public override int? Frame => Selection switch
    {
        { Kind: Kind.Node } node => FirstFrame.OfNode(Workspace.History, Workspace.Tracks, node.Address),
        { Kind: Kind.Group } group => FirstFrame.ToGroup(Workspace.History, group.Address),
        { Kind: Kind.NetworkKey } key => FirstFrame.UnderNetworkKey(Workspace.History, key.Row),
        { Kind: Kind.ApplicationKey } key => FirstFrame.UnderApplicationKey(Workspace.History, key.Row),
        { Kind: Kind.Beacon } beacon => FirstFrame.OfBeacon(Workspace.History, beacon.Row),
        { Kind: Kind.Event } happened => FirstFrame.OfEvent(Workspace.History, Workspace.History.Lifecycle[happened.Row]),
        { Kind: Kind.Joining } joining => Workspace.History.FirstProvisioningFrame(joining.Row),
        { Kind: Kind.UnknownNetwork } unknown => Workspace.History.FirstUnopenedFrame(Workspace.History.UnknownNids[unknown.Row].Nid),
        _ => null,
    };

    /// <summary>True where the selected thing is a node, which has a timeline.</summary>
    public bool IsNode => Selection is { Kind: Kind.Node };

    public override IReadOnlyList<(char Key, string Says, Narrowing Only)> Choices => Selection switch
    {
        { Kind: Kind.Node } node => [('n', $"node {Workspace.Account.Names.Short(node.Address)}", Workspace.Only with { Node = node.Address })],
        { Kind: Kind.Group } group => [('g', $"group {Workspace.Account.Names.Short(group.Address)}", Workspace.Only with { Group = group.Address })],
        _ => [],
    };

    protected override int Count => _things.Count;

    private Thing? Selection => Workspace.IsSettled && RowCount > 0 ? _things[Selected] : null;

    protected override void Build()
    {
        _things = [];
        if (!Workspace.IsSettled)
            return;
        CaptureHistory history = Workspace.History;
        for (int row = 0; row < history.Nodes.Count; row++)
            if (Workspace.Only.Takes(history, history.Nodes[row]))
                _things.Add(new Thing(Kind.Node, row, history.Nodes[row].Unicast));
        if (Workspace.Only is { Node: null, Press: null })
        {
            IReadOnlyList<DescribedGroup> groups = history.Directory.Description?.Groups ?? [];
            for (int row = 0; row < groups.Count; row++)
                if (Workspace.Only.Group is not { } group || groups[row].Address.Address == group)
                    _things.Add(new Thing(Kind.Group, row, groups[row].Address.Address));
        }
        if (!Workspace.Only.IsNone)
            return;
        AddAll(Kind.NetworkKey, history.Keys.Subnets.Count);
        AddAll(Kind.ApplicationKey, history.Keys.AppKeys.Count);
        AddAll(Kind.Beacon, history.Beacons.Count);
        AddAll(Kind.Joining, history.Provisionings.Count);
        AddAll(Kind.UnknownNetwork, history.UnknownNids.Count);
        AddAll(Kind.Event, history.Lifecycle.Count);
    }

    private void AddAll(Kind kind, int count)
    {
        for (int row = 0; row < count; row++)
            _things.Add(new Thing(kind, row));
    }

    public override void Enter()
    {
        Refresh();
        if (!Workspace.IsSettled || Workspace.Node is not { } node || node == _node)
            return;     // nothing was chosen elsewhere: whoever comes back finds the row that was left
        _node = node;
        if (_things.FindIndex(thing => thing.Kind == Kind.Node && thing.Address == node) is var at and >= 0)
            Place(at);
    }

    public override void Follow(RowFollowing following, RecordPlace? chosen, int selected)
    {
        Thing? before = selected < _things.Count ? _things[selected] : null;      // of the list as it was
        Refresh();
        int at = before is not { } thing ? -1 : thing.Kind switch
        {
            Kind.Node or Kind.Group => _things.FindIndex(one => one.Kind == thing.Kind && one.Address == thing.Address),
            Kind.UnknownNetwork => following.UnknownNetwork(thing.Row) is { } row ? _things.FindIndex(one => one.Kind == Kind.UnknownNetwork && one.Row == row) : -1,
            _ => _things.FindIndex(one => one.Kind == thing.Kind && one.Row == thing.Row),
        };
        if (at >= 0)
            Place(at);
    }

    protected override void OnSelected(int row)
    {
        if (_things[row].Kind == Kind.Node)
            Workspace.ChooseNode((_node = _things[row].Address).Value);
    }

    public override bool Take(Stroke stroke)
    {
        if (!stroke.Is('k'))
            return false;
        if (RowCount == 0)
            return true;
        int at = _things.FindIndex(Selected, thing => thing.Kind != _things[Selected].Kind);
        Selected = Math.Max(0, at);
        return true;
    }

    public override IReadOnlyList<TextLine> Heading(int columns) => [_grid.Heading(columns)];

    public override TextLine Row(int row, int columns)
    {
        (string what, string name, string where, string heard) = Say(_things[row]);
        return _grid.Row(columns, new Cell(what, Tone.Quiet), new Cell(name), new Cell(where), new Cell(heard));
    }

    private (string What, string Name, string Where, string Heard) Say(Thing thing)
    {
        CaptureHistory history = Workspace.History;
        switch (thing.Kind)
        {
            case Kind.Node:
                NodeRecord node = history.Nodes[thing.Row];
                string share = Workspace.Account.ShareHeard(node) is { } known ? $", {Phrases.Percent(known)}" : "";
                return ("node", Workspace.Account.Names.Short(thing.Address), thing.Address.ToString(), node.FloodsSent + node.FloodsRelayed == 0 ? "not heard"
                    : $"sent {Phrases.Number(node.FloodsSent)}, relayed {Phrases.Number(node.FloodsRelayed)}{share}");
            case Kind.Group:
                return ("group", Workspace.Account.Names.Short(thing.Address), thing.Address.ToString(), $"{Phrases.Count(history.Presses.Count(press => press.Dst == thing.Address), "press", "presses")}");
            case Kind.NetworkKey:
                Subnet subnet = history.Keys.Subnets[thing.Row];
                return ("network key", NetworkSection.NetKeyName(subnet), Verdict.Nid(subnet.Nid), $"opened {Phrases.Count(subnet.PdusOpened, "Network PDU")}");
            case Kind.ApplicationKey:
                AppKey key = history.Keys.AppKeys[thing.Row];
                return ("app. key", NetworkSection.AppKeyName(key), $"AID {key.Aid:x2}", $"opened {Phrases.Count(key.MessagesOpened, "message")}");
            case Kind.Beacon:
                BeaconRecord beacon = history.Beacons[thing.Row];
                string id = beacon.Kind == BeaconKind.Unprovisioned ? $"{beacon.DeviceUuid}" : beacon.NetworkId is { } network ? $"network {network}" : "network hidden";
                return ("beacon", id, beacon.Kind switch { BeaconKind.Secure => "secure", BeaconKind.Private => "private", _ => "waiting" }, $"{Phrases.Count(beacon.Count, "time")}{Authentic(beacon)}");
            case Kind.Joining:
                ProvisioningLink link = history.Provisionings[thing.Row];
                return ("joining", link.DeviceUuid?.ToString() ?? "a device", JoiningWords.MarkOf(link.Outcome), JoiningWords.Of(link));
            case Kind.UnknownNetwork:
                UnknownNid nid = history.UnknownNids[thing.Row];
                return ("not opened", $"NID {Verdict.Nid(nid.Nid)}", "", $"{Phrases.Count(nid.Pdus, "PDU")} in {Phrases.Count(nid.Copies, "frame")}");
            default:
                LifecycleEvent happened = history.Lifecycle[thing.Row];
                return ("event", SafeText.Strip(happened.Says, 200), "", Moment.Milli(happened.TimeNs));
        }
    }

    private static string Authentic(BeaconRecord beacon) => beacon.Authenticated switch
    {
        true => ", authentic",
        false => ", NOT authentic",
        _ => beacon.Kind == BeaconKind.Unprovisioned ? "" : ", no key to check it",
    };

    public override IReadOnlyList<TextLine> Account(int columns)
    {
        var lines = new Lines(columns);
        if (Selection is not { } thing)
            return lines.All;
        CaptureHistory history = Workspace.History;
        switch (thing.Kind)
        {
            case Kind.Node:
                NodeWords.Say(lines, Workspace.Account, history.Nodes[thing.Row]);
                break;
            case Kind.Group:
                NodeWords.SayGroup(lines, Workspace.Account, thing.Address);
                break;
            case Kind.NetworkKey:
                lines.Say(NetworkSection.Words(history.Keys.Subnets[thing.Row]));
                break;
            case Kind.ApplicationKey:
                AppKey key = history.Keys.AppKeys[thing.Row];
                lines.Say($"{NetworkSection.AppKeyName(key)}, AID 0x{key.Aid:x2}: opened {Phrases.Count(key.MessagesOpened, "message")}.");
                break;
            case Kind.Beacon:
                SayBeacon(lines, history.Beacons[thing.Row]);
                break;
            case Kind.Joining:
                SayJoining(lines, history.Provisionings[thing.Row]);
                break;
            case Kind.UnknownNetwork:
                UnknownNid nid = history.UnknownNids[thing.Row];
                lines.Say(nid.KeyMatches ? "A key given has this NID, but no PDU was authentic under it: check the IV index, or the two agree only by chance."
                    : "No key given has this NID. A neighbour's network is normal; if it is yours, its network key is missing.");
                break;
            default:
                lines.Say($"{Moment.Milli(history.Lifecycle[thing.Row].TimeNs)}  {SafeText.Strip(history.Lifecycle[thing.Row].Says, 400)}.");
                break;
        }
        return lines.All;
    }

    private static void SayBeacon(Lines lines, BeaconRecord beacon)
    {
        lines.Say($"Heard {Phrases.Count(beacon.Count, "time")}, from {Moment.Milli(beacon.FirstTimeNs)} to {Moment.Milli(beacon.LastTimeNs)}{Authentic(beacon)}.");
        if (beacon.IvIndex is { } iv)
            lines.Say($"IV index {iv.ToString(CultureInfo.InvariantCulture)}{(beacon.IvUpdate == true ? ", update in progress" : "")}{(beacon.KeyRefresh == true ? ", key refresh in phase 2" : "")}.");
        if (beacon.Kind == BeaconKind.Unprovisioned)
            lines.Say($"The device waits to be provisioned; its OOB information is 0x{beacon.OobInformation ?? 0:X4}.");
    }

    private static void SayJoining(Lines lines, ProvisioningLink link)
    {
        lines.Say(JoiningWords.Of(link));
        foreach (ProvisioningPduRecord pdu in link.Pdus)
            lines.Add(new Cell($"  {Moment.Milli(pdu.TimeNs)}  {(pdu.FromDevice ? "device     " : "provisioner")}  "), new Cell(pdu.Name), new Cell($"  {Phrases.Count(pdu.Octets.Length, "octet")}", Tone.Quiet));
    }

    public override bool Matches(int row, Words words)
    {
        (string what, string name, string where, string heard) = Say(_things[row]);
        return words.AreIn(_things[row].Kind is Kind.Node or Kind.Group ? _things[row].Address : null, null, null, what, name, where, heard);
    }
}
