using System.Globalization;
using System.Text.Json.Nodes;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>
/// Draws networks that work: relays where they are needed, TTL enough for the rooms, keys and subscriptions as they should be. The same seed gives the same
/// networks. Sizes, rooms, walls, counts, intervals, addresses, SAR edition, the receiver and what it hears are drawn.
/// </summary>
internal sealed partial class NetworkDrawing
{
    private const string Group = "C001", SecondGroup = "C002", Watch = "C003", Label = "6d65736874726163652d616363757261";
    private static readonly string[] RoomNames = ["entrance", "reading room", "stairs", "gallery", "jetty", "slipway"];

    private readonly Chance _chance;
    private readonly Needs _needs;
    private readonly int _index, _rooms, _size, _ttl, _groupSize;
    private readonly double _roomLength, _wallDb;
    private readonly bool _groupAnswers, _publishes, _stable, _virtual;
    private readonly string _habit;
    private readonly List<DrawnNode> _drawn = [];
    private readonly JsonArray _nodes = [];
    private readonly List<DrawnNode> _groupLamps = [], _beating = [];
    private int _next = 1, _heartbeats;

    private NetworkDrawing(ulong seed, int index, Needs needs)
    {
        (_chance, _needs, _index) = (new Chance(seed + (0x5851F42DUL * (ulong)(index + 1))), needs, index);
        bool crowd = needs.HasFlag(Needs.Crowd), far = needs.HasFlag(Needs.Far);
        int least = far ? 12 : crowd ? 18 : needs.HasFlag(Needs.Joining) || needs.HasFlag(Needs.GroupAnswers) ? 6 : 4;
        // Small networks are the most common; every sixth is large.
        _size = Math.Max(least, _chance.OneIn(6) ? _chance.Between(20, 40) : _chance.Between(3, 16));
        _rooms = far ? 4 : Math.Clamp(1 + (_size / 7), 1, 5);
        (_roomLength, _wallDb) = far ? (14, 14) : (_chance.Between(7, 10), _chance.Between(3, 7));
        _ttl = Math.Max(_rooms + 2, _chance.Between(4, 10));
        _groupAnswers = needs.HasFlag(Needs.GroupAnswers) || (!crowd && _chance.OneIn(2));
        _groupSize = crowd ? Math.Max(10, _size / 2) : _groupAnswers ? Math.Min(5, _size - 2) : Math.Max(1, _size / 2);
        _publishes = _size <= 12 && _chance.OneIn(3);
        _virtual = _chance.OneIn(2);
        _habit = _chance.Of("static", "static", "static", "public", "rotating", "each");
        _stable = _habit is "static" or "public";
    }

    /// <summary>Draws one network.</summary>
    /// <param name="seed">Of the whole run.</param>
    /// <param name="index">Which network of the run.</param>
    /// <param name="needs">What it must have.</param>
    public static DrawnNetwork Draw(ulong seed, int index, Needs needs = Needs.None) => new NetworkDrawing(seed, index, needs).Draw();

    private DrawnNetwork Draw()
    {
        DrawnNode panel = Add("panel", 0, false, Element(["1001"], publish: To(Group)), Element(["1001"], publish: null), Element(["1003"],
            publish: To(_virtual ? "Label" : SecondGroup)));
        DrawnNode tablet = Add("tablet", 0, false, Element(["1001", "0001"]));
        var relays = new List<DrawnNode>();
        for (int room = 0; room < _rooms; room++)
            relays.Add(AddLamp(room, true));
        bool joins = _size >= 5 || _needs.HasFlag(Needs.Joining);
        int lamps = Math.Max(1, _size - 2 - _rooms - (joins ? 1 : 0));
        for (int i = 0; i < lamps; i++)
            AddLamp(_rooms - 1 - (i % _rooms), false);
        DrawnNode lamp = _groupLamps[0];
        DrawnNode? joining = joins ? AddJoining() : null;
        DrawnNode? battery = _needs.HasFlag(Needs.Friendship) ? AddBattery() : null;
        DrawnNode? device = _needs.HasFlag(Needs.Provisioning) ? AddDevice() : null;
        DrawnNode? phone = _needs.HasFlag(Needs.Phone) ? AddPhone(relays[0].Name) : null;
        ((JsonObject)((JsonArray)((JsonObject)_nodes[0]!)["elements"]!)[1]!)["publish"] = To(Hex(lamp.Unicast));
        // Each PDU comes in several copies: small shares of the packets are needed for middling shares of the PDUs.
        var (least, most) = (_index % 3) switch { 0 => (0.06, 0.15), 1 => (0.15, 0.4), _ => (0.4, 1.0) };
        double share = least + ((most - least) * _chance.Share());
        string channels = _chance.Of("hop", "hop", "three", "three", "37", "38", "39");
        var (x, y) = (Round((_rooms * _roomLength / 2) + (_chance.Share() * 4) - 2), Round(1 + (_chance.Share() * 5)));
        const int Duration = 150;
        double noted = 0;
        JsonArray schedule = Schedule(panel, tablet, lamp, joining, device, Duration, ref noted);
        AddPhonePresses(schedule, phone);
        return new DrawnNetwork
        {
            Index = _index, Seed = _chance.Next() & 0x7FFFFFFF, Nodes = _drawn, Panel = panel, Tablet = tablet, Lamp = lamp, GroupLamps = _groupLamps,
            Relays = relays, Beating = _beating, Joining = joining, Battery = battery, Device = device, Phone = phone, Receiver = "receiver", ReceiverPlace = (x, y), HeardShare = share, Channels = channels,
            StableAddresses = _stable, DurationS = Duration, NotedAtS = noted, Scenario = Scenario(schedule, share, channels, x, y, Duration),
        };
    }

    private JsonObject Scenario(JsonArray schedule, double share, string channels, double x, double y, int duration)
    {
        var walls = new JsonArray();
        for (int room = 1; room < _rooms; room++)
        {
            walls.Add(new JsonObject
            {
                ["from"] = new JsonArray(room * _roomLength, -50), ["to"] = new JsonArray(room * _roomLength, 50), ["lossDb"] = _wallDb,
            });
        }
        JsonNode channel = int.TryParse(channels, CultureInfo.InvariantCulture, out int one) ? one : channels;
        int linkType = channels == "hop" && _chance.OneIn(6) ? 187 : _chance.Of(256, 256, 272, 251);
        var noise = new JsonArray();
        if (_chance.OneIn(2))
            noise.Add(new JsonObject { ["kind"] = _chance.Of("phone", "tag"), ["place"] = new JsonArray(x, y + 3), ["count"] = _chance.Between(1, 4), ["intervalMs"] = 500 });
        return new JsonObject
        {
            ["scenario"] = 1, ["name"] = "drawn", ["seed"] = (long)(_chance.Next() & 0x7FFFFFFF), ["start"] = "2026-05-04T08:00:00Z", ["lastsS"] = duration,
            ["building"] = new JsonObject { ["walls"] = walls, ["shadowDb"] = _chance.Between(0, 3) },
            ["network"] = new JsonObject
            {
                ["name"] = "Drawn library", ["ivIndex"] = _chance.Between(4, 5000),
                ["netKeys"] = new JsonArray(Key(0, "House"), Key(1, "Guests")), ["appKeys"] = new JsonArray(Key(0, "Lamps"), Key(1, "Spare")),
                ["groups"] = new JsonArray(Named("Lamps", Group), Named("Level", SecondGroup), Named("Watch", Watch),
                    new JsonObject { ["name"] = "Label", ["label"] = Label }),
            },
            ["nodes"] = _nodes,
            ["receivers"] = new JsonArray(new JsonObject
            {
                ["name"] = "receiver", ["place"] = new JsonArray(x, y), ["linkType"] = linkType, ["channels"] = channel, ["heardShare"] = Math.Round(share, 3),
                ["keepsDamaged"] = _chance.OneIn(2), ["dwellMs"] = _chance.Of(30, 100, 300),
            }),
            ["noise"] = noise, ["schedule"] = schedule,
        };
    }

    private JsonArray Schedule(DrawnNode panel, DrawnNode tablet, DrawnNode lamp, DrawnNode? joining, DrawnNode? device, int duration, ref double noted)
    {
        var schedule = new JsonArray();
        if (joining is not null)
            schedule.Add(new JsonObject { ["atS"] = 4, ["configure"] = joining.Name, ["by"] = tablet.Name });
        if (device is not null)
        {
            schedule.Add(new JsonObject { ["atS"] = 12, ["provision"] = device.Name, ["by"] = tablet.Name });
            schedule.Add(new JsonObject { ["atS"] = 62, ["configure"] = device.Name, ["by"] = tablet.Name });
        }
        if (_needs.HasFlag(Needs.IvUpdate))
            schedule.Add(new JsonObject { ["atS"] = 40, ["ivUpdate"] = tablet.Name });
        if (_needs.HasFlag(Needs.KeyRefresh))
            schedule.Add(new JsonObject { ["atS"] = 40, ["keyRefresh"] = 0, ["by"] = tablet.Name });
        foreach (double at in (double[])[9, 34.2, 58.7])
            schedule.Add(new JsonObject { ["atS"] = at, ["transfer"] = tablet.Name, ["to"] = lamp.Name, ["octets"] = _chance.Between(24, 70) });
        double now = 16;
        for (int press = 0; now < duration - 14; press++)
        {
            var item = new JsonObject { ["atS"] = Math.Round(now, 3), ["press"] = panel.Name };
            string value = press / 3 % 2 == 0 ? "on" : "off", other = value == "on" ? "off" : "on";
            switch (press % 3)
            {
                case 0:
                    (item["asks"], item["acknowledged"]) = (value, _groupAnswers);
                    break;
                case 1:
                    (item["asks"], item["acknowledged"], item["element"]) = (other, true, 1);
                    if (press == 13)
                        noted = now;
                    break;
                default:
                    (item["asks"], item["element"]) = (string.Create(CultureInfo.InvariantCulture, $"level {press * 100}"), 2);
                    break;
            }
            schedule.Add(item);
            now += 1.4 + (_chance.Share() * 0.5);    // the three kinds come round within 6 s, the time of a transaction
            if (noted == 0 && press is 12 || press == 13)
                now += 5;       // nothing else is pressed near the noted press
        }
        return schedule;
    }

    private DrawnNode AddLamp(int room, bool relay)
    {
        bool inGroup = !relay && _groupLamps.Count < _groupSize;
        // Where ways are long, relays are lamps of the group too: their answers tell that they receive.
        JsonArray subscribe = inGroup || (relay && _needs.HasFlag(Needs.Far)) ? [Group, _virtual ? "Label" : SecondGroup] : [];
        JsonObject element = Element(["1000", "1002"], subscribe, _publishes ? To(Watch) : null);
        DrawnNode node = Add("lamp", room, relay, element);
        if (relay && room == 0 && _needs.HasFlag(Needs.Friendship))
            ((JsonObject)_nodes[^1]!)["friend"] = true;
        if (inGroup)
            _groupLamps.Add(node);
        return node;
    }

    private DrawnNode AddJoining()
    {
        DrawnNode node = Add("new lamp", 0, false, Element(["1000", "1002"], [SecondGroup]));
        ((JsonObject)_nodes[^1]!)["configured"] = false;
        return node;
    }

    private DrawnNode AddBattery()
    {
        DrawnNode node = Add("battery panel", 0, false, Element(["1001", "1000"], [Group, _virtual ? "Label" : SecondGroup]));
        var json = (JsonObject)_nodes[^1]!;
        (json["lowPower"], json["friendship"]) = (true, new JsonObject { ["fromS"] = 2, ["pollS"] = _chance.Between(6, 12), ["pollTimeoutS"] = 60 });
        json.Remove("beacon");
        return node;
    }

    private DrawnNode AddDevice()
    {
        DrawnNode node = Add("new device", 0, false, Element(["1000"]));
        var json = (JsonObject)_nodes[^1]!;
        (json["netKeys"], json["sequence"]) = (new JsonArray(0), 0);
        json.Remove("beacon");
        return node;
    }

    private DrawnNode Add(string what, int room, bool relay, params JsonObject[] elements)
    {
        string name = string.Create(CultureInfo.InvariantCulture, $"{RoomNames[room]} {what} {_drawn.Count}");
        var drawn = new DrawnNode(name, (ushort)_next, elements.Length, room, relay);
        var place = relay ? new JsonArray((room + 0.5) * _roomLength, 3.5)
            : new JsonArray(Round((room * _roomLength) + 1 + (_chance.Share() * (_roomLength - 2))), Round(0.5 + (_chance.Share() * 6)));
        var node = new JsonObject
        {
            ["name"] = name, ["place"] = place, ["unicast"] = Hex(_next), ["sequence"] = 300 + (_drawn.Count * 1500) + _chance.Between(0, 900),
            ["defaultTtl"] = _ttl, ["address"] = _habit, ["rotationS"] = 30, ["netKeys"] = new JsonArray(0, 1),
            ["networkTransmit"] = new JsonObject { ["transmissions"] = _chance.Between(3, 4), ["intervalMs"] = _chance.Of(20, 30, 40) },
            ["sar"] = _chance.Of("1.0", "1.1"), ["channels"] = _chance.Of("hop", "three"), ["elements"] = new JsonArray([.. elements]),
        };
        if (relay)
            (node["relay"], node["relayRetransmit"]) = (true, new JsonObject { ["transmissions"] = _chance.Between(2, 3), ["intervalMs"] = _chance.Of(20, 30) });
        if (relay)
            node["heartbeat"] = Heartbeat(16);
        if (what == "lamp" && !relay && _heartbeats < 2)
        {
            node["heartbeat"] = Heartbeat(8);
            _heartbeats++;
            _beating.Add(drawn);
        }
        // The more nodes send beacons, the longer each waits: three must do where beacons tell of a procedure.
        bool procedure = _needs.HasFlag(Needs.IvUpdate) || _needs.HasFlag(Needs.KeyRefresh);
        if (procedure ? what == "tablet" || (relay && room < 2) : _chance.OneIn(3))
            node["beacon"] = true;
        _nodes.Add(node);
        _drawn.Add(drawn);
        _next += elements.Length + _chance.Between(0, 2) * (what == "panel" ? 0 : 1);
        return drawn;
    }

    private static JsonObject Element(string[] models, JsonArray? subscribe = null, JsonObject? publish = null)
    {
        var element = new JsonObject { ["models"] = new JsonArray([.. models.Select(model => JsonValue.Create(model))]) };
        if (subscribe is { Count: > 0 })
            element["subscribe"] = subscribe;
        if (publish is not null)
            element["publish"] = publish;
        return element;
    }

    /// <summary>To the tablet, which has the address 4.</summary>
    private JsonObject Heartbeat(int periodS) => new() { ["to"] = Hex(4), ["periodS"] = periodS, ["ttl"] = _ttl };

    private static JsonObject To(string address) => new() { ["to"] = address };

    private static JsonObject Key(int index, string name) => new() { ["index"] = index, ["name"] = name };

    private static JsonObject Named(string name, string address) => new() { ["name"] = name, ["address"] = address };

    private static string Hex(int address) => address.ToString("X4", CultureInfo.InvariantCulture);

    private static double Round(double metres) => Math.Round(metres, 2);
}
