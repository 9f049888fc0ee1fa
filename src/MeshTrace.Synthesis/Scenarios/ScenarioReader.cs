using System.Globalization;
using System.Text.Json;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Reads a scenario file (docs/scenarios.md). Wrong input throws <see cref="ScenarioException"/> with the JSON path.</summary>
internal static partial class ScenarioReader
{
    private static readonly JsonDocumentOptions Lenient = new() { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true };

    /// <summary>The scenario without its faults; <see cref="FaultCatalogue.Apply"/> brings them in.</summary>
    internal static Scenario Read(ReadOnlyMemory<byte> utf8, string file)
    {
        JsonElement root;
        try
        {
            using var document = JsonDocument.Parse(utf8, Lenient);
            root = document.RootElement.Clone();
        }
        catch (JsonException wrong)
        {
            throw new ScenarioException(file, "", string.Create(CultureInfo.InvariantCulture, $"no JSON at line {wrong.LineNumber + 1}"),
                wrong);
        }
        var json = new ScenarioJson(root, file, "$");
        json.Whole("scenario", 1, 1);
        ulong seed = (ulong)json.Whole("seed", 0, long.MaxValue);
        string name = json.Text("name");
        if (name.Length is 0 or > 64 || !name.All(c => char.IsAsciiLetterLower(c) || char.IsAsciiDigit(c) || c is '-' or '_'))
            throw json.WrongMember("name", "the name becomes file names: lower-case letters, digits, - and _, at most 64");
        var scenario = new Scenario
        {
            Name = name,
            Says = json.TextOrNull("says"),
            Seed = seed,
            StartNs = Start(json),
            DurationUs = json.Seconds("lastsS"),
            Truth = json.TextOrNull("truth") switch
            {
                null or "full" => TruthDetail.Full,
                "presses" => TruthDetail.Presses,
                _ => throw json.WrongMember("truth", "\"full\" or \"presses\" is expected"),
            },
            Building = ReadBuilding(json.ObjectOrNull("building")),
            Network = ReadNetwork(json.Object("network"), new Randomness(seed)),
            Description = ReadDescription(json.ObjectOrNull("description")),
        };
        ReadNodes(json, scenario);
        foreach (var link in json.Objects("links"))
            scenario.Links.Add(ReadLink(link));
        foreach (var receiver in json.Objects("receivers"))
            scenario.Receivers.Add(ReadReceiver(receiver, scenario));
        foreach (var noise in json.Objects("noise"))
            scenario.Noise.Add(ReadNoise(noise));
        foreach (var incident in json.Objects("schedule"))
            scenario.Schedule.Add(ReadIncident(incident, scenario));
        foreach (var fault in json.Objects("faults"))
        {
            string fault1 = fault.Text("fault");
            if (!FaultCatalogue.Knows(fault1))
                throw fault.WrongMember("fault", $"no such fault; known: {string.Join(", ", FaultCatalogue.Names)}");
            scenario.Faults.Add(new FaultPlan(fault1, fault.Flag("described", FaultCatalogue.IsDescribed(fault1)), fault));
        }
        json.Finish();
        if (scenario.Receivers.Count == 0)
            throw json.WrongMember("receivers", "at least one receiver is needed");
        return scenario;
    }

    private static long Start(ScenarioJson json)
    {
        string text = json.Text("start");
        return DateTimeOffset.TryParseExact(text, "yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal,
            out var time)
            ? (time - DateTimeOffset.UnixEpoch).Ticks * 100
            : throw json.WrongMember("start", "a time such as 2026-03-02T18:00:00Z is expected");
    }

    private static BuildingPlan ReadBuilding(ScenarioJson? json)
    {
        if (json is null)
            return new BuildingPlan();
        var building = new BuildingPlan
        {
            Exponent = json.Number("exponent", 1, 6, 2.4),
            FadingDb = json.Number("fadingDb", 0, 12, 3),
            ShadowDb = json.Number("shadowDb", 0, 12, 2),
        };
        foreach (var wall in json.Objects("walls"))
        {
            building.Walls.Add(new WallPlan(wall.Place("from"), wall.Place("to"), wall.Number("lossDb", 0, 100)));
            wall.Finish();
        }
        json.Finish();
        return building;
    }

    private static NetworkPlan ReadNetwork(ScenarioJson json, Randomness random)
    {
        var network = new NetworkPlan
        {
            Name = json.Text("name"),
            IvIndex = (uint)json.Whole("ivIndex", 0, uint.MaxValue, 0),
            MeshUuid = UuidFrom(random.Fork("mesh")),
        };
        foreach (var key in json.Objects("netKeys"))
        {
            int index = (int)key.Whole("index", 0, 4095);
            network.NetKeys.Add(new NetKeyPlan(index, key.Text("name"), key.Octets("key", 16) ?? KeyFrom(random.Fork("net key", index))));
            key.Finish();
        }
        if (network.NetKeys.Count == 0)
            throw json.WrongMember("netKeys", "at least one NetKey is needed");
        foreach (var key in json.Objects("appKeys"))
        {
            int index = (int)key.Whole("index", 0, 4095);
            int netKey = (int)key.Whole("netKey", 0, 4095, network.NetKeys[0].Index);
            if (!network.NetKeys.Exists(known => known.Index == netKey))
                throw key.WrongMember("netKey", "no NetKey has this index");
            network.AppKeys.Add(new AppKeyPlan(index, key.Text("name"), netKey,
                key.Octets("key", 16) ?? KeyFrom(random.Fork("app key", index))));
            key.Finish();
        }
        foreach (var group in json.Objects("groups"))
        {
            byte[]? label = group.Octets("label", 16);
            var address = label is null ? group.AddressOrNull("address") : VirtualAddress.Of(label);
            if (address is not { IsGroup: true } and not { IsVirtual: true })
                throw group.WrongMember("address", "a group address (C000-FEFF) or a label of 32 hex digits is needed");
            network.Groups.Add(new GroupPlan(group.Text("name"), address.Value, label));
            group.Finish();
        }
        json.Finish();
        return network;
    }

    private static DescriptionPlan ReadDescription(ScenarioJson? json)
    {
        if (json is null)
            return new DescriptionPlan();
        string? timestamp = json.TextOrNull("timestamp");
        DateTimeOffset time = default;
        if (timestamp is not null
            && !DateTimeOffset.TryParse(timestamp, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out time))
            throw json.WrongMember("timestamp", "a time is expected");
        var description = new DescriptionPlan
        {
            Timestamp = timestamp is null ? null : time,
            Partial = json.Flag("partial", false),
            OmitDeviceKeys = json.Flag("omitDeviceKeys", false),
        };
        description.OmitNodes.AddRange(json.Texts("omitNodes"));
        description.OmitAppKeys.AddRange(json.Wholes("omitAppKeys", 0, 4095));
        json.Finish();
        return description;
    }

    /// <summary>A link may name a receiver that stands after it: unknown names are refused once all stations are known.</summary>
    private static LinkPlan ReadLink(ScenarioJson json)
    {
        var link = new LinkPlan(json.Text("from"), json.Text("to"), json.Flag("bothWays", true),
            json.Has("rssiDbm") ? (int)json.Whole("rssiDbm", -200, 20) : null,
            json.Has("lossShare") ? json.Number("lossShare", 0, 1) : null);
        json.Finish();
        return link;
    }

    private static ReceiverPlan ReadReceiver(ScenarioJson json, Scenario scenario)
    {
        string name = json.Text("name");
        int linkType = (int)json.Whole("linkType", 0, 65535, 256);
        if (linkType is not (251 or 256 or 272 or 187))
            throw json.WrongMember("linkType", "251, 256, 272 or 187 is expected");
        long dwell = json.Whole("dwellMs", 1, 60_000, 100) * 1000;
        var receiver = new ReceiverPlan
        {
            Name = name,
            Place = json.Place("place"),
            LinkType = new LinkType(linkType),
            Scan = ChannelPlan(json, dwell, dwell, new Randomness(scenario.Seed).Fork("scan " + name)),
            SensitivityDbm = (int)json.Whole("sensitivityDbm", -120, 0, -97),
            HeardShare = json.Number("heardShare", 0, 1, 1),
            KeepsDamaged = json.Flag("keepsDamaged", false),
            ClockOffsetUs = (long)Math.Round(json.Number("clockOffsetMs", -1e7, 1e7, 0) * 1000),
            ClockDriftPpm = (int)json.Whole("clockDriftPpm", -1000, 1000, 0),
        };
        foreach (var deaf in json.Objects("deaf"))
        {
            receiver.Deaf.Add((deaf.Seconds("fromS"), deaf.Seconds("untilS")));
            deaf.Finish();
        }
        json.Finish();
        return receiver;
    }

    private static ScanPlan ChannelPlan(ScenarioJson json, long intervalUs, long windowUs, Randomness random)
    {
        const string Member = "channels";
        return json.KindOf(Member) switch
        {
            JsonValueKind.Undefined => new ScanPlan(0, intervalUs, windowUs, random.Below(3 * intervalUs)),
            JsonValueKind.Number => new ScanPlan((int)json.Whole(Member, 37, 39), intervalUs, windowUs, random.Below(intervalUs)),
            _ => json.TextOrNull(Member) switch
            {
                "hop" => new ScanPlan(0, intervalUs, windowUs, random.Below(3 * intervalUs)),
                "three" => ScanPlan.AllThree,
                _ => throw json.WrongMember(Member, "\"hop\", \"three\", 37, 38 or 39 is expected"),
            },
        };
    }

    private static NoisePlan ReadNoise(ScenarioJson json)
    {
        var noise = new NoisePlan
        {
            Kind = json.Text("kind") switch
            {
                "phone" => NoiseKind.Phone,
                "tag" => NoiseKind.Tag,
                "network" => NoiseKind.Network,
                _ => throw json.WrongMember("kind", "\"phone\", \"tag\" or \"network\" is expected"),
            },
            Place = json.Place("place"),
            Count = (int)json.Whole("count", 1, 500, 1),
            IntervalUs = json.Whole("intervalMs", 20, 3_600_000, 1000) * 1000,
            FromUs = json.Seconds("fromS", 0),
            UntilUs = json.Seconds("untilS", long.MaxValue),
            StayUs = json.Seconds("stayS", 0),
        };
        json.Finish();
        return noise;
    }

    internal static byte[] KeyFrom(Randomness random)
    {
        byte[] key = new byte[16];
        random.Fill(key);
        return key;
    }

    /// <summary>A random UUID (RFC 9562, version 4).</summary>
    internal static Guid UuidFrom(Randomness random)
    {
        byte[] octets = KeyFrom(random);
        octets[6] = (byte)((octets[6] & 0x0F) | 0x40);
        octets[8] = (byte)((octets[8] & 0x3F) | 0x80);
        return new Guid(octets, bigEndian: true);
    }
}
