using System.Globalization;
using System.Text.Json;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Writes the description that fits a redacted capture: Mesh Configuration Database Profile 1.0.1 with fresh keys, pseudonymous addresses, and numbers in the
/// place of names. Only what is written here is in it: nothing of the real one passes by.
/// </summary>
internal sealed class RedactedDescription
{
    private const string SchemaId = "https://www.bluetooth.com/specifications/specs/mesh-cdb-1-0-1-schema.json#";
    private const string NoUuid = "00000000-0000-4000-8000-000000000000";
    private static readonly JsonWriterOptions Indented = new() { Indented = true, NewLine = "\n" };

    private readonly CaptureHistory _history;
    private readonly NetworkDescription? _description;
    private readonly Pseudonyms _pseudonyms;
    private readonly Utf8JsonWriter _json;

    private RedactedDescription(CaptureHistory history, Pseudonyms pseudonyms, Utf8JsonWriter json) =>
        (_history, _description, _pseudonyms, _json) = (history, history.Directory.Description, pseudonyms, json);

    /// <summary>The file, UTF-8.</summary>
    /// <param name="history">Of the real capture.</param>
    /// <param name="pseudonyms">What is put in.</param>
    /// <param name="ivIndex">The IV index that the user gave, or null.</param>
    public static byte[] Write(CaptureHistory history, Pseudonyms pseudonyms, uint? ivIndex)
    {
        var stream = new MemoryStream();
        using (var json = new Utf8JsonWriter(stream, Indented))
            new RedactedDescription(history, pseudonyms, json).Write(ivIndex ?? history.Directory.Description?.IvIndexHint ?? history.Keys.Subnets.FirstOrDefault(subnet => subnet.IvIndexOrigin == IvIndexOrigin.Provisioning)?.IvIndex);
        stream.WriteByte((byte)'\n');
        return stream.ToArray();
    }

    private void Write(uint? ivIndex)
    {
        _json.WriteStartObject();
        _json.WriteString("$schema", "http://json-schema.org/draft-04/schema#");
        _json.WriteString("id", SchemaId);
        _json.WriteString("version", "1.0.1");
        _json.WriteString("meshUUID", _description?.MeshUuid is { } uuid ? Text(_pseudonyms.Uuid(uuid)) : NoUuid);
        _json.WriteString("meshName", "Redacted network");
        if (_description?.Timestamp is { } time)
            _json.WriteString("timestamp", time.ToUniversalTime().ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture));
        _json.WriteBoolean("partial", _description?.Partial ?? true);
        if (ivIndex is { } index)
            _json.WriteNumber("ivIndex", index);
        WriteNetKeys();
        WriteAppKeys();
        WriteList("provisioners", _description?.Provisioners ?? [], WriteProvisioner);
        WriteNodes();
        WriteGroups();
        WriteList("scenes", _description?.Scenes ?? [], (scene, number) =>
        {
            _json.WriteString("name", Name("Scene", number));
            _json.WriteString("number", Hex(scene.Number));
            WriteAddresses("addresses", scene.Addresses);
        });
        WriteList("networkExclusions", _description?.Exclusions ?? [], (exclusion, _) =>
        {
            _json.WriteNumber("ivIndex", exclusion.IvIndex);
            WriteAddresses("addresses", exclusion.Addresses);
        });
        _json.WriteEndObject();
    }

    private void WriteNetKeys()
    {
        var given = new HashSet<string>();
        _json.WriteStartArray("netKeys");
        foreach (DescribedNetKey key in _description?.NetKeys ?? [])
        {
            given.Add(Convert.ToHexString(key.Key.Octets));
            given.Add(Convert.ToHexString(key.OldKey is { } before ? before.Octets : []));
            WriteKey(Name("NetKey", key.Index), key.Index, key.Key.Octets, key.OldKey);
            _json.WriteNumber("phase", key.Phase);
            _json.WriteString("minSecurity", key.SecureNodesOnly == false ? "insecure" : "secure");
            _json.WriteEndObject();
        }
        int free = 0;
        foreach (Subnet subnet in _history.Keys.Subnets.Where(subnet => subnet.Origin != KeyOrigin.ConfigMessage && !given.Contains(Convert.ToHexString(subnet.Material.Octets))))
        {
            int index = subnet.NetKeyIndex ?? Free(ref free, _history.Keys.Subnets.Select(known => known.NetKeyIndex));
            WriteKey(Name("NetKey", index), index, subnet.Material.Octets, null);
            _json.WriteNumber("phase", 0);
            _json.WriteString("minSecurity", "secure");
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
    }

    private void WriteAppKeys()
    {
        var given = new HashSet<string>();
        _json.WriteStartArray("appKeys");
        foreach (DescribedAppKey key in _description?.AppKeys ?? [])
        {
            given.Add(Convert.ToHexString(key.Key.Octets));
            given.Add(Convert.ToHexString(key.OldKey is { } before ? before.Octets : []));
            WriteKey(Name("AppKey", key.Index), key.Index, key.Key.Octets, key.OldKey);
            WriteNumber("boundNetKey", key.BoundNetKey);
            _json.WriteEndObject();
        }
        int free = 0;
        foreach (AppKey key in _history.Keys.AppKeys.Where(key => key.Origin != KeyOrigin.ConfigMessage && !given.Contains(Convert.ToHexString(key.Material.Octets))))
        {
            int index = key.AppKeyIndex ?? Free(ref free, _history.Keys.AppKeys.Select(known => known.AppKeyIndex));
            WriteKey(Name("AppKey", index), index, key.Material.Octets, null);
            WriteNumber("boundNetKey", key.BoundNetKey);
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
    }

    /// <summary>Begins the object of a key.</summary>
    private void WriteKey(string name, int index, ReadOnlySpan<byte> key, KeyOctets? oldKey)
    {
        _json.WriteStartObject();
        _json.WriteString("name", name);
        _json.WriteNumber("index", index);
        _json.WriteString("key", Convert.ToHexString(_pseudonyms.Key(key)));
        if (oldKey is not null)
            _json.WriteString("oldKey", Convert.ToHexString(_pseudonyms.Key(oldKey.Octets)));
    }

    private void WriteProvisioner(DescribedProvisioner provisioner, int number)
    {
        _json.WriteString("provisionerName", Name("Provisioner", number));
        _json.WriteString("UUID", provisioner.Uuid is { } uuid ? Text(_pseudonyms.Uuid(uuid)) : NoUuid);
        // Whose addresses lie in which range would tell where the real ones lie: every provisioner may give all.
        WriteRange("allocatedUnicastRange", "lowAddress", "0001", "highAddress", "7FFF");
        WriteRange("allocatedGroupRange", "lowAddress", "C000", "highAddress", "FEFF");
        WriteRange("allocatedSceneRange", "firstScene", "0001", "lastScene", "FFFF");
    }

    private void WriteRange(string name, string lowName, string low, string highName, string high)
    {
        _json.WriteStartArray(name);
        _json.WriteStartObject();
        _json.WriteString(lowName, low);
        _json.WriteString(highName, high);
        _json.WriteEndObject();
        _json.WriteEndArray();
    }

    /// <summary>Described nodes in the order of their pseudonyms; then those of which nothing but a device key is known.</summary>
    private void WriteNodes()
    {
        DescribedNode[] described = [.. (_description?.Nodes ?? []).OrderBy(node => _pseudonyms.Addresses.Of(node.Unicast))];
        var names = new HashSet<ushort>(described.Select(node => node.Unicast.Value));
        DeviceKey[] others = [.. _history.Keys.DeviceKeys.Where(key => key.Origin != KeyOrigin.ConfigMessage && names.Add(key.Node.Value)).OrderBy(key => _pseudonyms.Addresses.Of(key.Node))];
        _json.WriteStartArray("nodes");
        int number = 0;
        foreach (DescribedNode node in described)
            WriteNode(node, ++number);
        foreach (DeviceKey key in others)
        {
            _json.WriteStartObject();
            _json.WriteString("name", Name("Node", ++number));
            _json.WriteString("unicastAddress", Hex(key.Node));
            WriteDeviceKey(key.Node);
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
    }

    private void WriteDeviceKey(MeshAddress node)
    {
        if (_history.Keys.DeviceKeysOf(node) is [var row, ..])
            _json.WriteString("deviceKey", Convert.ToHexString(_pseudonyms.Key(_history.Keys.DeviceKeys[row].Octets)));
    }

    private void WriteNode(DescribedNode node, int number)
    {
        _json.WriteStartObject();
        if (node.Uuid is { } uuid)
            _json.WriteString("UUID", Text(_pseudonyms.Uuid(uuid)));
        _json.WriteString("name", Name("Node", number));
        _json.WriteString("unicastAddress", Hex(node.Unicast));
        WriteDeviceKey(node.Unicast);
        if (node.SecurelyProvisioned is { } secure)
            _json.WriteString("security", secure ? "secure" : "insecure");
        WriteNodeKeys("netKeys", node.NetKeys);
        WriteNodeKeys("appKeys", node.AppKeys);
        WriteFlag("configComplete", node.ConfigComplete);
        WriteHex("cid", node.Cid);
        WriteHex("pid", node.Pid);
        WriteHex("vid", node.Vid);
        WriteHex("crpl", node.Crpl);
        WriteFeatures(node.Features);
        WriteFlag("secureNetworkBeacon", node.SecureNetworkBeacon);
        WriteNumber("defaultTTL", node.DefaultTtl);
        WriteTransmit("networkTransmit", node.NetworkTransmit);
        WriteTransmit("relayRetransmit", node.RelayRetransmit);
        WriteList("elements", node.Elements, WriteElement);
        _json.WriteBoolean("excluded", node.Excluded);
        WriteHeartbeats(node);
        if (node.KnownAddresses.Count > 0)
        {
            _json.WriteStartArray("knownAddresses");
            foreach (DescribedAddress known in node.KnownAddresses)
                _json.WriteStringValue(Address(known));
            _json.WriteEndArray();
        }
        _json.WriteEndObject();
    }

    private void WriteElement(DescribedElement element, int number)
    {
        _json.WriteNumber("index", element.Index);
        _json.WriteString("location", "0000");
        WriteList("models", element.Models, (model, _) =>
        {
            _json.WriteString("modelId", model.CompanyId is { } company ? Hex(company) + Hex(model.ModelId) : Hex(model.ModelId));
            _json.WriteStartArray("subscribe");
            foreach (DescribedAddress address in model.Subscribe)
                _json.WriteStringValue(Address(address));
            _json.WriteEndArray();
            _json.WriteStartArray("bind");
            foreach (int key in model.Bind)
                _json.WriteNumberValue(key);
            _json.WriteEndArray();
            if (model.Publish is { } publish)
                WritePublish(publish);
        });
    }

    private void WritePublish(DescribedPublish publish)
    {
        _json.WriteStartObject("publish");
        _json.WriteString("address", Address(publish.Address));
        WriteNumber("index", publish.AppKeyIndex);
        WriteNumber("ttl", publish.Ttl);
        if (publish.PeriodMs is { } period)
        {
            int resolution = period <= 63 * 100 && period % 100 == 0 ? 100 : period <= 63_000 && period % 1_000 == 0 ? 1_000 : period <= 630_000 && period % 10_000 == 0 ? 10_000 : 600_000;
            _json.WriteStartObject("period");
            _json.WriteNumber("numberOfSteps", period / resolution);
            _json.WriteNumber("resolution", resolution);
            _json.WriteEndObject();
        }
        if (publish.RetransmitCount is not null || publish.RetransmitIntervalMs is not null)
        {
            _json.WriteStartObject("retransmit");
            WriteNumber("count", publish.RetransmitCount);
            WriteNumber("interval", publish.RetransmitIntervalMs);
            _json.WriteEndObject();
        }
        WriteNumber("credentials", publish.FriendshipCredentials is { } friendship ? friendship ? 1 : 0 : null);
        _json.WriteEndObject();
    }

    private void WriteHeartbeats(DescribedNode node)
    {
        if (node.HeartbeatPublication is { } publication)
        {
            _json.WriteStartObject("heartbeatPub");
            _json.WriteString("address", Address(publication.Destination));
            WriteNumber("period", publication.PeriodSeconds);
            WriteNumber("ttl", publication.Ttl);
            WriteNumber("index", publication.NetKeyIndex);
            _json.WriteStartArray("features");
            foreach (string feature in publication.OnChangeOf.Where(feature => feature is "relay" or "proxy" or "friend" or "lowPower"))
                _json.WriteStringValue(feature);
            _json.WriteEndArray();
            _json.WriteEndObject();
        }
        if (node.HeartbeatSubscription is { } subscription)
        {
            _json.WriteStartObject("heartbeatSub");
            _json.WriteString("source", Hex(subscription.Source));
            _json.WriteString("destination", Hex(subscription.Destination));
            _json.WriteEndObject();
        }
    }

    /// <summary>Described groups, then labels that were typed.</summary>
    private void WriteGroups()
    {
        DescribedGroup[] groups = [.. (_description?.Groups ?? []).OrderBy(group => Address(group.Address), StringComparer.Ordinal)];
        var described = new HashSet<Guid>(_description?.LabelUuids ?? []);
        _json.WriteStartArray("groups");
        int number = 0;
        foreach (DescribedGroup group in groups)
            WriteGroup(Name("Group", ++number), Address(group.Address), group.Parent is { } parent ? Address(parent) : "0000");
        foreach (Label label in _history.Keys.Labels.Where(label => !described.Contains(label.Uuid)))
            WriteGroup(Name("Group", ++number), Address(new DescribedAddress(label.Address, label.Uuid)), "0000");
        _json.WriteEndArray();
    }

    private void WriteGroup(string name, string address, string parent)
    {
        _json.WriteStartObject();
        _json.WriteString("name", name);
        _json.WriteString("address", address);
        _json.WriteString("parentAddress", parent);
        _json.WriteEndObject();
    }

    private void WriteNodeKeys(string member, IReadOnlyList<DescribedNodeKey>? keys)
    {
        if (keys is null)
            return;
        WriteList(member, keys, (key, _) =>
        {
            _json.WriteNumber("index", key.Index);
            _json.WriteBoolean("updated", key.Updated);
        });
    }

    private void WriteFeatures(DescribedFeatures features)
    {
        _json.WriteStartObject("features");
        foreach ((string name, FeatureState state) in ((string, FeatureState)[])[("relay", features.Relay), ("proxy", features.Proxy), ("friend", features.Friend), ("lowPower", features.LowPower)])
            WriteNumber(name, state == FeatureState.Unknown ? null : (int)state);
        _json.WriteEndObject();
    }

    private void WriteTransmit(string member, DescribedTransmit? transmit)
    {
        if (transmit is not { } set)
            return;
        _json.WriteStartObject(member);
        _json.WriteNumber("count", set.Count);
        _json.WriteNumber("interval", set.IntervalMs);
        _json.WriteEndObject();
    }

    private void WriteList<T>(string member, IReadOnlyList<T> items, Action<T, int> write)
    {
        _json.WriteStartArray(member);
        for (int i = 0; i < items.Count; i++)
        {
            _json.WriteStartObject();
            write(items[i], i + 1);
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
    }

    private void WriteAddresses(string member, IReadOnlyList<MeshAddress> addresses)
    {
        _json.WriteStartArray(member);
        foreach (MeshAddress address in addresses)
            _json.WriteStringValue(Hex(address));
        _json.WriteEndArray();
    }

    private void WriteNumber(string member, int? value)
    {
        if (value is { } number)
            _json.WriteNumber(member, number);
    }

    private void WriteFlag(string member, bool? value)
    {
        if (value is { } flag)
            _json.WriteBoolean(member, flag);
    }

    private void WriteHex(string member, ushort? value)
    {
        if (value is { } number)
            _json.WriteString(member, Hex(number));
    }

    /// <summary>The lowest index that no key has.</summary>
    private static int Free(ref int from, IEnumerable<int?> taken)
    {
        var indexes = taken.ToHashSet();
        while (indexes.Contains(from))
            from++;
        return from++;
    }

    private string Address(DescribedAddress address) =>
        address.Label is { } label ? Convert.ToHexString(_pseudonyms.Addresses.Of(label).ToByteArray(bigEndian: true)) : Hex(address.Address);

    private static string Name(string what, int number) => string.Create(CultureInfo.InvariantCulture, $"{what} {number}");
    private static string Text(Guid uuid) => uuid.ToString("D", CultureInfo.InvariantCulture);
    private string Hex(MeshAddress address) => Hex(_pseudonyms.Addresses.Of(address).Value);
    private static string Hex(ushort value) => value.ToString("X4", CultureInfo.InvariantCulture);
}
