using System.Globalization;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>Nodes and their own states.</summary>
public static partial class NetworkDescriptionReader
{
    private const string NoHeartbeat = "read as no heartbeat";

    private static DescribedNode[] ReadNodes(DescriptionObject network, bool partial)
    {
        var uuids = new HashSet<Guid>();
        var addresses = new HashSet<MeshAddress>();
        return PartOf(network, "nodes", partial, entry =>
        {
            DescribedNode node = ReadNode(entry, partial);
            if (node.Uuid is { } uuid && !uuids.Add(uuid))
                entry.Note("UUID", "another node has the same UUID, both kept");
            bool contested = node.Elements.All(element => element.Address != node.Unicast) && !addresses.Add(node.Unicast);
            foreach (DescribedElement element in node.Elements)
                contested |= !addresses.Add(element.Address);
            if (contested)
                entry.Note("unicastAddress", "another node claims one of the same element addresses, both kept");
            return node;
        });
    }

    private static DescribedNode ReadNode(DescriptionObject node, bool partial)
    {
        MeshAddress unicast = node.Need("unicastAddress").Unicast();
        return new DescribedNode
        {
            Uuid = node.Expect("UUID", LeftUnknown)?.Uuid(),
            Name = node.Find("name")?.TextOrUnknown(),
            Unicast = unicast,
            DeviceKey = ReadDeviceKey(node, partial),
            SecurelyProvisioned = node.Expect("security", LeftUnknown) is { } security ? ReadSecurity(security) : null,
            NetKeys = node.Expect("netKeys", LeftUnknown)?.AsList(ReadNodeKey),
            AppKeys = node.Expect("appKeys", LeftUnknown)?.AsList(ReadNodeKey),
            ConfigComplete = node.Expect("configComplete", LeftUnknown)?.FlagOrUnknown(),
            Cid = node.Find("cid")?.Hex16OrUnknown(),
            Pid = node.Find("pid")?.Hex16OrUnknown(),
            Vid = node.Find("vid")?.Hex16OrUnknown(),
            Crpl = node.Find("crpl")?.Hex16OrUnknown(),
            Features = ReadFeatures(node),
            SecureNetworkBeacon = node.Find("secureNetworkBeacon")?.FlagOrUnknown(),
            DefaultTtl = ReadDefaultTtl(node),
            NetworkTransmit = ReadTransmit(node, "networkTransmit"),
            RelayRetransmit = ReadTransmit(node, "relayRetransmit"),
            Elements = ReadElements(node, unicast),
            Excluded = ReadExcluded(node),
            HeartbeatPublication = ReadHeartbeatPublication(node),
            HeartbeatSubscription = ReadHeartbeatSubscription(node),
            KnownAddresses = node.Find("knownAddresses")?.AsList(entry => entry.Address()) ?? [],
        };
    }

    private static KeyOctets? ReadDeviceKey(DescriptionObject node, bool partial)
    {
        DescriptionValue? key = partial   // there it may be left out
            ? node.Find("deviceKey")
            : node.Expect("deviceKey", "the Config messages of this node stay unread");
        return key?.Key();
    }

    private static DescribedNodeKey ReadNodeKey(DescriptionValue entry)
    {
        DescriptionObject key = entry.AsObject();
        return new DescribedNodeKey(key.Need("index").KeyIndex(), key.Expect("updated", "read as false")?.FlagOrUnknown() ?? false);
    }

    private static bool ReadExcluded(DescriptionObject node)
    {
        if (node.Find("excluded") is null && node.Find("blacklisted") is { } older)
        {
            older.Note("older name of excluded, same meaning");
            return older.FlagOrUnknown() ?? false;
        }
        return node.Expect("excluded", "read as false")?.FlagOrUnknown() ?? false;
    }

    private static DescribedFeatures ReadFeatures(DescriptionObject node)
    {
        if (node.Find("features") is not { } value)
            return DescribedFeatures.Unknown;
        DescriptionObject features = value.AsObject();
        return new DescribedFeatures(State("relay"), State("proxy"), State("friend"), State("lowPower"));

        FeatureState State(string member) => OptionalNumber(features, member, 0, 2) is { } state ? (FeatureState)state : FeatureState.Unknown;
    }

    /// <summary>TTL 1 cannot be a default TTL (Mesh Protocol 1.1 §4.2, Default TTL state).</summary>
    private static int? ReadDefaultTtl(DescriptionObject node)
    {
        int? ttl = OptionalNumber(node, "defaultTTL", 0, 127);
        if (ttl != 1)
            return ttl;
        node.Note("defaultTTL", "1 is prohibited, left unknown");
        return null;
    }

    private static DescribedTransmit? ReadTransmit(DescriptionObject node, string member)
    {
        if (node.Find(member) is not { } value)
            return null;
        DescriptionObject transmit = value.AsObject();
        int? count = OptionalNumber(transmit, "count", 0, 8);
        int? interval = OptionalNumber(transmit, "interval", 0, 320);
        if (count == 0 || interval == 0)
        {
            value.Note("count or interval of 0, left unknown");
            return null;
        }
        if (count is null || interval is null)
            return null;
        if (interval % 10 == 0)
            return new DescribedTransmit(count.Value, interval.Value);
        if (interval > 32)
        {
            value.Note("interval is no multiple of 10 ms, left unknown");
            return null;
        }
        value.Note("interval written in steps of 10 ms", string.Create(CultureInfo.InvariantCulture, $"{interval} read as {interval * 10} ms"));
        return new DescribedTransmit(count.Value, interval.Value * 10);
    }

    private static DescribedHeartbeatPublication? ReadHeartbeatPublication(DescriptionObject node)
    {
        if (node.Find("heartbeatPub") is not { } value)
            return null;
        DescriptionObject publication = value.AsObject();
        if (publication.Expect("address", NoHeartbeat)?.Address() is not { } destination)
            return null;
        return new DescribedHeartbeatPublication(
            destination,
            OptionalNumber(publication, "period", 0, 65_536),
            OptionalNumber(publication, "ttl", 0, 127),
            publication.Find("index")?.KeyIndex(),
            publication.Find("features")?.AsList(entry => SafeText.Strip(entry.TextOrUnknown(), longest: 16)) ?? []);
    }

    private static DescribedHeartbeatSubscription? ReadHeartbeatSubscription(DescriptionObject node)
    {
        if (node.Find("heartbeatSub") is not { } value)
            return null;
        DescriptionObject subscription = value.AsObject();
        return subscription.Expect("source", NoHeartbeat)?.Hex16() is { } source
            && subscription.Expect("destination", NoHeartbeat)?.Hex16() is { } destination
            ? new DescribedHeartbeatSubscription(new MeshAddress(source), new MeshAddress(destination))
            : null;
    }
}
