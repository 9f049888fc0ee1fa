using System.Globalization;
using System.Text.Json;
using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Nodes, elements, models, and what happens when.</summary>
internal static partial class ScenarioReader
{
    private static void ReadNodes(ScenarioJson json, Scenario scenario)
    {
        var random = new Randomness(scenario.Seed);
        ushort next = 1;
        foreach (var item in json.Objects("nodes"))
        {
            NodePlan node = ReadNode(item, scenario, random, next);
            if (scenario.NodeNamed(node.Name) is not null)
                throw item.WrongMember("name", "another node has this name");
            scenario.Nodes.Add(node);
            next = (ushort)Math.Min(0x7FFF, node.Unicast.Value + node.Elements.Count);
        }
    }

    private static NodePlan ReadNode(ScenarioJson json, Scenario scenario, Randomness random, ushort nextAddress)
    {
        string name = json.Text("name");
        var unicast = json.AddressOrNull("unicast") ?? new MeshAddress(nextAddress);
        if (!unicast.IsUnicast)
            throw json.WrongMember("unicast", "a unicast address (0001-7FFF) is expected");
        Randomness own = random.Fork("node " + name);
        var (interval, window) = ReadScan(json);
        var node = new NodePlan
        {
            Name = name,
            Place = json.Place("place"),
            Unicast = unicast,
            Uuid = UuidFrom(own.Fork("uuid")),
            DeviceKey = json.Octets("deviceKey", 16) ?? KeyFrom(own.Fork("device key")),
            NetworkTransmit = ReadRepetition(json, "networkTransmit"),
            RelayRetransmit = ReadRepetition(json, "relayRetransmit"),
            Relay = ReadFeature(json, "relay"),
            Proxy = ReadFeature(json, "proxy"),
            Friend = ReadFeature(json, "friend"),
            LowPower = ReadFeature(json, "lowPower"),
            FriendQueueSize = (int)json.Whole("friendQueueSize", 2, 255, 16),
            FriendSubscriptionListSize = (int)json.Whole("friendSubscriptionListSize", 0, 255, 16),
            FriendReceiveWindowMs = (int)json.Whole("friendReceiveWindowMs", 10, 255, 60),
            DefaultTtl = (int)json.Whole("defaultTtl", 0, 127, 5),
            SecureNetworkBeacon = json.Flag("beacon", false),
            PrivateBeacon = json.Flag("privateBeacon", false),
            PrivateBeaconRandomUs = json.Seconds("privateBeaconRandomS", 600_000_000),
            FirstSequence = (uint)json.Whole("sequence", 0, 0xFFFFFF, own.Fork("sequence").Below(4000)),
            IvIndex = json.Has("ivIndex") ? (uint)json.Whole("ivIndex", 0, uint.MaxValue) : null,
            CacheSize = (int)json.Whole("cacheSize", 1, 1024, 32),
            ReplayListSize = (int)json.Whole("replayListSize", 1, 4096, 64),
            Sar = json.TextOrNull("sar") switch
            {
                null or "1.1" => SarEdition.V11,
                "1.0" => SarEdition.V10,
                _ => throw json.WrongMember("sar", "\"1.0\" or \"1.1\" is expected"),
            },
            SegmentTries = (int)json.Whole("segmentTries", 1, 16, 4),
            RelayDelayMs = (int)json.Whole("relayDelayMs", 0, 1000, 20),
            Address = json.TextOrNull("address") switch
            {
                null or "static" => AddressHabit.Static,
                "public" => AddressHabit.Public,
                "rotating" => AddressHabit.Rotating,
                "each" => AddressHabit.EachPdu,
                _ => throw json.WrongMember("address", "\"static\", \"public\", \"rotating\" or \"each\" is expected"),
            },
            RotationUs = json.Seconds("rotationS", 900_000_000),
            TxPowerDbm = (int)json.Whole("txPowerDbm", -40, 20, 0),
            SensitivityDbm = (int)json.Whole("sensitivityDbm", -120, 0, -93),
            Scan = ChannelPlan(json, interval, window, own.Fork("scan")),
            Configured = json.Flag("configured", true),
            ProvisionedAtUs = json.Seconds("provisionedAtS", 0),
            ProxyIntervalUs = json.Whole("proxyIntervalMs", 100, 60_000, 5000) * 1000,
            CompanyId = (ushort)json.Whole("companyId", 0, 0xFFFF, 0xFFFF),
            ProductId = (ushort)json.Whole("productId", 0, 0xFFFF, 1),
            VersionId = (ushort)json.Whole("versionId", 0, 0xFFFF, 1),
        };
        node.Friendship = ReadFriendship(json, node, scenario);
        node.Phone = ReadPhone(json, scenario);
        if (json.ObjectOrNull("heartbeat") is { } heartbeat)
        {
            node.Heartbeat = new HeartbeatPlan
            {
                Destination = ReadAddress(heartbeat, "to", scenario) ?? throw heartbeat.WrongMember("to", "this member is needed"),
                PeriodS = heartbeat.Whole("periodS", 1, 65536, 64),
                Ttl = (int)heartbeat.Whole("ttl", 0, 127, 5),
            };
            heartbeat.Finish();
        }
        node.NetKeys.AddRange(json.Has("netKeys") ? json.Wholes("netKeys", 0, 4095).Select(index => (int)index)
            : [scenario.Network.NetKeys[0].Index]);
        if (node.NetKeys.Count == 0)
            throw json.WrongMember("netKeys", "a node has at least one NetKey");
        node.AppKeys.AddRange(json.Has("appKeys") ? json.Wholes("appKeys", 0, 4095).Select(index => (int)index)
            : scenario.Network.AppKeys.Select(key => key.Index));
        foreach (int index in node.NetKeys)
        {
            if (!scenario.Network.NetKeys.Exists(key => key.Index == index))
                throw json.WrongMember("netKeys", string.Create(CultureInfo.InvariantCulture, $"no NetKey has index {index}"));
        }
        ReadElements(json, node, scenario);
        json.Finish();
        if (node.Unicast.Value + node.Elements.Count - 1 > 0x7FFF)
            throw json.WrongMember("unicast", "the elements do not fit below 8000");
        return node;
    }

    /// <summary>Scan interval and window: 30 ms with the window as long where nothing is told.</summary>
    private static (long IntervalUs, long WindowUs) ReadScan(ScenarioJson json)
    {
        if (json.ObjectOrNull("scan") is not { } scan)
            return (30_000, 30_000);
        long interval = scan.Whole("intervalMs", 3, 10_240) * 1000, window = scan.Whole("windowMs", 3, 10_240) * 1000;
        scan.Finish();
        return (interval, Math.Min(window, interval));
    }

    private static Repetition ReadRepetition(ScenarioJson json, string member)
    {
        if (json.ObjectOrNull(member) is not { } value)
            return new Repetition(3, 20);
        var repetition = new Repetition((int)value.Whole("transmissions", 1, 8), (int)value.Whole("intervalMs", 10, 320));
        if (repetition.IntervalMs % 10 != 0)
            throw value.WrongMember("intervalMs", "a multiple of 10 is expected");
        value.Finish();
        return repetition;
    }

    private static int ReadFeature(ScenarioJson json, string member) => json.KindOf(member) switch
    {
        JsonValueKind.Undefined => 2,
        _ => json.Flag(member, false) ? 1 : 0,
    };

    private static void ReadElements(ScenarioJson json, NodePlan node, Scenario scenario)
    {
        foreach (var item in json.Objects("elements"))
        {
            var element = new ElementPlan { Name = item.TextOrNull("name"), Location = (ushort)item.Whole("location", 0, 0xFFFF, 0) };
            if (node.Elements.Count == 0)
            {
                element.Models.Add(new ModelPlan { Id = 0x0000 });
                element.Models.Add(new ModelPlan { Id = 0x0002 });
            }
            var subscribe = ReadAddresses(item, "subscribe", scenario).ToList();
            var bind = item.Has("bind") ? item.Wholes("bind", 0, 4095).Select(index => (int)index).ToList()
                : [.. scenario.Network.AppKeys.Take(1).Select(key => key.Index)];
            PublishPlan? Publish() => item.ObjectOrNull("publish") is { } publish ? ReadPublish(publish, scenario) : null;
            foreach (var (value, path) in item.Items("models"))
                element.Models.Add(ReadModel(item, value, path, subscribe, bind, Publish));
            _ = item.Has("publish");
            item.Finish();
            node.Elements.Add(element);
        }
        if (node.Elements.Count == 0)
            throw json.WrongMember("elements", "at least one element is needed");
    }

    private static ModelPlan ReadModel(ScenarioJson json, JsonElement value, string path, List<MeshAddress> subscribe, List<int> bind,
        Func<PublishPlan?> publish)
    {
        if (value.ValueKind != JsonValueKind.String || value.GetString() is not { Length: 4 or 8 } text ||
            !uint.TryParse(text, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out uint id))
        {
            throw json.Wrong(path, "a model is 4 hex digits, or 8 with the company identifier first");
        }
        var model = new ModelPlan { Id = id };
        if (!model.IsConfiguration)
        {
            model.Bind.AddRange(bind);
            model.Subscribe.AddRange(subscribe);
            model.Publish = publish();
        }
        return model;
    }

    private static PublishPlan ReadPublish(ScenarioJson json, Scenario scenario)
    {
        var plan = new PublishPlan
        {
            Address = ReadAddress(json, "to", scenario) ?? throw json.WrongMember("to", "this member is needed"),
            AppKey = (int)json.Whole("appKey", 0, 4095, scenario.Network.AppKeys.Count == 0 ? 0 : scenario.Network.AppKeys[0].Index),
            Ttl = (int)json.Whole("ttl", 0, 255, 255),
            RetransmitCount = (int)json.Whole("retransmitCount", 0, 7, 0),
            RetransmitIntervalMs = (int)json.Whole("retransmitIntervalMs", 50, 1600, 50),
            PeriodMs = json.Whole("periodMs", 0, 37_800_000, 0),
        };
        json.Finish();
        return plan;
    }

    private static IEnumerable<MeshAddress> ReadAddresses(ScenarioJson json, string member, Scenario scenario) =>
        json.Items(member).Select(item =>
            AddressOf(json, item.Path, item.Value.ValueKind == JsonValueKind.String ? item.Value.GetString()! : "", scenario));

    internal static MeshAddress? ReadAddress(ScenarioJson json, string member, Scenario scenario) =>
        json.TextOrNull(member) is { } text ? AddressOf(json, json.At(member), text, scenario) : null;

    /// <summary>The name of a group or of a node (its primary element), or 4 hex digits.</summary>
    private static MeshAddress AddressOf(ScenarioJson json, string path, string text, Scenario scenario) =>
        scenario.Network.Groups.Find(group => group.Name == text) is { } named ? named.Address
        : scenario.NodeNamed(text) is { } node ? node.Unicast
        : MeshAddress.TryParse(text, out var address) && address != MeshAddress.Unassigned ? address
        : throw json.Wrong(path, $"\"{text}\" is neither a group nor a node named before nor an address of 4 hex digits");

    private static IncidentPlan ReadIncident(ScenarioJson json, Scenario scenario)
    {
        long at = json.Seconds("atS");
        IncidentPlan incident;
        if (json.Has("press"))
            incident = ReadPress(json, at, scenario);
        else if (json.Has("configure"))
        {
            var configure = new ConfigurePlan { AtUs = at, Node = NodeOf(json, "configure", scenario), By = NodeOf(json, "by", scenario) };
            configure.Steps.AddRange(json.Texts("steps"));
            foreach (string step in configure.Steps.Where(step => !Nodes.ConfigurationClient.KnowsStep(step)))
                throw json.WrongMember("steps", $"no such step: {step}");
            incident = configure;
        }
        else if (json.Has("transfer"))
        {
            incident = new TransferPlan
            {
                AtUs = at,
                Node = NodeOf(json, "transfer", scenario),
                To = ReadAddress(json, "to", scenario) ?? throw json.WrongMember("to", "this member is needed"),
                Octets = (int)json.Whole("octets", 3, 380),
                AppKey = (int)json.Whole("appKey", 0, 4095, 0),
                Element = (int)json.Whole("element", 0, 255, 0),
                Ttl = json.Has("ttl") ? (int)json.Whole("ttl", 0, 127) : null,
                LongMic = json.Flag("longMic", false),
            };
        }
        else
        {
            incident = ReadProcedure(json, at, scenario)
                ?? throw json.Wrong(json.Path, $"\"press\", \"configure\", \"transfer\", {ProcedureNames} is expected");
        }
        json.Finish();
        return incident;
    }

    private static PressPlan ReadPress(ScenarioJson json, long at, Scenario scenario)
    {
        string asks = json.Text("asks");
        if (!Nodes.Request.TryParse(asks, out _))
            throw json.WrongMember("asks", "\"on\", \"off\", \"level N\", \"level by N\", \"lightness N\" or \"scene N\" is expected");
        return new PressPlan
        {
            AtUs = at,
            Node = NodeOf(json, "press", scenario),
            Asks = asks,
            Element = (int)json.Whole("element", 0, 255, 0),
            To = ReadAddress(json, "to", scenario),
            Acknowledged = json.Flag("acknowledged", false),
            Ttl = json.Has("ttl") ? (int)json.Whole("ttl", 0, 127) : null,
            AppKey = json.Has("appKey") ? (int)json.Whole("appKey", 0, 4095) : null,
            Tid = json.Has("tid") ? (byte)json.Whole("tid", 0, 255) : null,
            Tries = (int)json.Whole("tries", 1, 20, 3),
            RetryUs = json.Seconds("retryS", 1_000_000),
            TransitionMs = json.Has("transitionMs") ? (int)json.Whole("transitionMs", 0, 37_200_000) : null,
        };
    }

    internal static string NodeOf(ScenarioJson json, string member, Scenario scenario)
    {
        string name = json.Text(member);
        return scenario.NodeNamed(name) is null ? throw json.WrongMember(member, $"no node is named \"{name}\"") : name;
    }
}
