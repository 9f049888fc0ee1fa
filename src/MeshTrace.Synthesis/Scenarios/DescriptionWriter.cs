using System.Globalization;
using System.Text.Json;
using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>
/// Writes the network's description as a set-up program would export it: Mesh Configuration Database Profile 1.0.1. It has what the
/// provisioning side believes, which a scenario can make differ from the nodes.
/// </summary>
internal static class DescriptionWriter
{
    private const string SchemaId = "https://www.bluetooth.com/specifications/specs/mesh-cdb-1-0-1-schema.json#";
    private static readonly JsonWriterOptions Indented = new() { Indented = true, NewLine = "\n" };

    internal static void Write(Stream stream, Scenario scenario)
    {
        using var json = new Utf8JsonWriter(stream, Indented);
        var time = scenario.Description.Timestamp ?? DateTimeOffset.UnixEpoch.AddTicks(scenario.StartNs / 100);
        string timestamp = time.ToUniversalTime().ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
        json.WriteStartObject();
        json.WriteString("$schema", "http://json-schema.org/draft-04/schema#");
        json.WriteString("id", SchemaId);
        json.WriteString("version", "1.0.1");
        json.WriteString("meshUUID", scenario.Network.MeshUuid.ToString("D"));
        json.WriteString("meshName", scenario.Network.Name);
        json.WriteString("timestamp", timestamp);
        json.WriteBoolean("partial", scenario.Description.Partial);
        WriteKeys(json, scenario, timestamp);
        WriteProvisioners(json, scenario);
        json.WriteStartArray("nodes");
        foreach (NodePlan node in scenario.Nodes.Where(node => !scenario.Description.OmitNodes.Contains(node.Name)))
            WriteNode(json, node, scenario);
        json.WriteEndArray();
        json.WriteStartArray("groups");
        foreach (GroupPlan group in scenario.Network.Groups)
        {
            json.WriteStartObject();
            json.WriteString("name", group.Name);
            json.WriteString("address", group.Label is null ? Hex(group.Address) : Convert.ToHexString(group.Label));
            json.WriteString("parentAddress", "0000");
            json.WriteEndObject();
        }
        json.WriteEndArray();
        json.WriteStartArray("scenes");
        json.WriteEndArray();
        json.WriteStartArray("networkExclusions");
        if (scenario.Network.Exclusions.Count > 0)
        {
            json.WriteStartObject();
            json.WriteNumber("ivIndex", scenario.Network.IvIndex);
            json.WriteStartArray("addresses");
            foreach (ExclusionPlan exclusion in scenario.Network.Exclusions)
                json.WriteStringValue(Hex(exclusion.Address));
            json.WriteEndArray();
            json.WriteEndObject();
        }
        json.WriteEndArray();
        json.WriteEndObject();
        json.Flush();
        stream.WriteByte((byte)'\n');
    }

    private static void WriteKeys(Utf8JsonWriter json, Scenario scenario, string timestamp)
    {
        json.WriteStartArray("netKeys");
        foreach (NetKeyPlan key in scenario.Network.NetKeys)
        {
            json.WriteStartObject();
            json.WriteString("name", key.Name);
            json.WriteNumber("index", key.Index);
            json.WriteString("key", Convert.ToHexString(key.Key));
            json.WriteNumber("phase", 0);
            json.WriteString("minSecurity", "secure");
            json.WriteString("timestamp", timestamp);
            json.WriteEndObject();
        }
        json.WriteEndArray();
        json.WriteStartArray("appKeys");
        foreach (AppKeyPlan key in scenario.Network.AppKeys.Where(key => !scenario.Description.OmitAppKeys.Contains(key.Index)))
        {
            json.WriteStartObject();
            json.WriteString("name", key.Name);
            json.WriteNumber("index", key.Index);
            json.WriteNumber("boundNetKey", key.NetKey);
            json.WriteString("key", Convert.ToHexString(key.Key));
            json.WriteEndObject();
        }
        json.WriteEndArray();
    }

    /// <summary>The nodes with a Configuration Client are the provisioners; where there is none, one without an address is named.</summary>
    private static void WriteProvisioners(Utf8JsonWriter json, Scenario scenario)
    {
        json.WriteStartArray("provisioners");
        var clients = scenario.Nodes.Where(node => node.Models().Any(item => item.Model.Id == 0x0001)).Select(node =>
            (node.Name, node.Uuid)).ToList();
        if (clients.Count == 0)
            clients.Add(("Set-up tablet", ScenarioReader.UuidFrom(new Randomness(scenario.Seed).Fork("provisioner"))));
        foreach (var (name, uuid) in clients)
        {
            json.WriteStartObject();
            json.WriteString("provisionerName", name);
            json.WriteString("UUID", uuid.ToString("D"));
            WriteRange(json, "allocatedUnicastRange", "lowAddress", "0001", "highAddress", "7FFF");
            WriteRange(json, "allocatedGroupRange", "lowAddress", "C000", "highAddress", "FEFF");
            WriteRange(json, "allocatedSceneRange", "firstScene", "0001", "lastScene", "FFFF");
            json.WriteEndObject();
        }
        json.WriteEndArray();
    }

    private static void WriteRange(Utf8JsonWriter json, string name, string lowName, string low, string highName, string high)
    {
        json.WriteStartArray(name);
        json.WriteStartObject();
        json.WriteString(lowName, low);
        json.WriteString(highName, high);
        json.WriteEndObject();
        json.WriteEndArray();
    }

    private static void WriteNode(Utf8JsonWriter json, NodePlan node, Scenario scenario)
    {
        json.WriteStartObject();
        json.WriteString("UUID", node.Uuid.ToString("D"));
        json.WriteString("name", node.Name);
        json.WriteString("unicastAddress", Hex(node.Unicast));
        if (!scenario.Description.OmitDeviceKeys)
            json.WriteString("deviceKey", Convert.ToHexString(node.DeviceKey));
        json.WriteString("security", "secure");
        WriteKeyIndexes(json, "netKeys", node.NetKeys);
        WriteKeyIndexes(json, "appKeys", node.AppKeys);
        json.WriteBoolean("configComplete",
            !node.Habits.SetupCutOff && (node.Configured || scenario.Schedule.Exists(incident => incident is ConfigurePlan && incident.Node == node.Name)));
        json.WriteString("cid", Hex(node.CompanyId));
        json.WriteString("pid", Hex(node.ProductId));
        json.WriteString("vid", Hex(node.VersionId));
        json.WriteString("crpl", Hex((ushort)node.ReplayListSize));
        json.WriteStartObject("features");
        json.WriteNumber("relay", node.Relay);
        json.WriteNumber("proxy", node.Proxy);
        json.WriteNumber("friend", node.Friend);
        json.WriteNumber("lowPower", node.LowPower);
        json.WriteEndObject();
        json.WriteBoolean("secureNetworkBeacon", node.SecureNetworkBeacon);
        json.WriteNumber("defaultTTL", node.DefaultTtl == 1 ? 0 : node.DefaultTtl);
        WriteRepetition(json, "networkTransmit", node.NetworkTransmit);
        if (node.Relay != 2)
            WriteRepetition(json, "relayRetransmit", node.RelayRetransmit);
        json.WriteStartArray("elements");
        for (int i = 0; i < node.Elements.Count; i++)
            WriteElement(json, node.Elements[i], i, scenario.Network);
        json.WriteEndArray();
        json.WriteBoolean("excluded", false);
        if (node.Heartbeat is { } heartbeat)
        {
            json.WriteStartObject("heartbeatPub");
            json.WriteString("address", Hex(heartbeat.Destination));
            json.WriteNumber("period", heartbeat.PeriodS);
            json.WriteNumber("ttl", heartbeat.Ttl);
            json.WriteNumber("index", node.NetKeys[0]);
            json.WriteStartArray("features");
            json.WriteEndArray();
            json.WriteEndObject();
        }
        json.WriteEndObject();
    }

    private static void WriteElement(Utf8JsonWriter json, ElementPlan element, int index, NetworkPlan network)
    {
        json.WriteStartObject();
        if (element.Name is not null)
            json.WriteString("name", element.Name);
        json.WriteNumber("index", index);
        json.WriteString("location", Hex(element.Location));
        json.WriteStartArray("models");
        foreach (ModelPlan model in element.Models)
        {
            json.WriteStartObject();
            json.WriteString("modelId", model.Id.ToString(model.IsVendor ? "X8" : "X4", CultureInfo.InvariantCulture));
            json.WriteStartArray("subscribe");
            foreach (MeshAddress address in model.Subscribe)
                json.WriteStringValue(AddressOrLabel(address, network));
            json.WriteEndArray();
            json.WriteStartArray("bind");
            foreach (int key in model.Bind)
                json.WriteNumberValue(key);
            json.WriteEndArray();
            if (model.Publish is { } publish)
                WritePublish(json, publish, network);
            json.WriteEndObject();
        }
        json.WriteEndArray();
        json.WriteEndObject();
    }

    /// <summary>Transmissions of the PDU, as this format counts (the wire counts one less).</summary>
    private static void WriteRepetition(Utf8JsonWriter json, string name, Repetition repetition)
    {
        json.WriteStartObject(name);
        json.WriteNumber("count", repetition.Transmissions);
        json.WriteNumber("interval", repetition.IntervalMs);
        json.WriteEndObject();
    }

    private static void WritePublish(Utf8JsonWriter json, PublishPlan publish, NetworkPlan network)
    {
        json.WriteStartObject("publish");
        json.WriteString("address", AddressOrLabel(publish.Address, network));
        json.WriteNumber("index", publish.AppKey);
        json.WriteNumber("ttl", publish.Ttl);
        var (steps, resolution) = publish.PeriodMs switch
        {
            <= 6300 => (publish.PeriodMs / 100, 100),
            <= 63_000 => (publish.PeriodMs / 1000, 1000),
            <= 630_000 => (publish.PeriodMs / 10_000, 10_000),
            _ => (publish.PeriodMs / 600_000, 600_000),
        };
        json.WriteStartObject("period");
        json.WriteNumber("numberOfSteps", steps);
        json.WriteNumber("resolution", resolution);
        json.WriteEndObject();
        json.WriteStartObject("retransmit");
        json.WriteNumber("count", publish.RetransmitCount);
        json.WriteNumber("interval", publish.RetransmitIntervalMs);
        json.WriteEndObject();
        json.WriteNumber("credentials", 0);
        json.WriteEndObject();
    }

    private static void WriteKeyIndexes(Utf8JsonWriter json, string name, List<int> indexes)
    {
        json.WriteStartArray(name);
        foreach (int index in indexes)
        {
            json.WriteStartObject();
            json.WriteNumber("index", index);
            json.WriteBoolean("updated", false);
            json.WriteEndObject();
        }
        json.WriteEndArray();
    }

    private static string AddressOrLabel(MeshAddress address, NetworkPlan network) =>
        network.LabelOf(address) is { } label ? Convert.ToHexString(label) : Hex(address);

    private static string Hex(MeshAddress address) => Hex(address.Value);

    private static string Hex(ushort value) => value.ToString("X4", CultureInfo.InvariantCulture);
}
