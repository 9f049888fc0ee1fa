using System.Buffers.Binary;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Reads the Config messages that change a node, and those by which it tells its state (Mesh Protocol 1.1 §4.3.2).</summary>
internal static class ConfigMessageReader
{
    private const int LabelOctets = 16, KeyOctets = 16;

    /// <summary>Reads a request; null where it changes nothing or has not its form.</summary>
    public static ConfigChange? ReadRequest(MeshAddress node, long timeNs, Opcode opcode, ReadOnlySpan<byte> payload)
    {
        ReadOnlySpan<byte> p = payload[opcode.Octets..];
        ConfigChange Of(ConfigKind kind) => new() { TimeNs = timeNs, Node = node, Kind = kind };
        switch (opcode.Value)
        {
            case 0x8040 when p.Length == 2 + KeyOctets: return Key(ConfigKind.NetKeyAdded, Word(p) & 0xFFF, -1);
            case 0x8045 when p.Length == 2 + KeyOctets: return Key(ConfigKind.NetKeyUpdated, Word(p) & 0xFFF, -1);
            case 0x8041 when p.Length == 2: return Key(ConfigKind.NetKeyDeleted, Word(p) & 0xFFF, -1);
            case 0x00 when p.Length == 3 + KeyOctets: return Key(ConfigKind.AppKeyAdded, SecondIndex(p), FirstIndex(p));
            case 0x01 when p.Length == 3 + KeyOctets: return Key(ConfigKind.AppKeyUpdated, SecondIndex(p), FirstIndex(p));
            case 0x8000 when p.Length == 3: return Key(ConfigKind.AppKeyDeleted, SecondIndex(p), FirstIndex(p));
            case 0x803D: return Binding(ConfigKind.KeyBound, p);
            case 0x803F: return Binding(ConfigKind.KeyUnbound, p);
            case 0x801B: return Subscription(ConfigKind.SubscriptionAdded, p, 2);
            case 0x801C: return Subscription(ConfigKind.SubscriptionDeleted, p, 2);
            case 0x801D: return Subscription(ConfigKind.SubscriptionsCleared, p, 0);
            case 0x801E: return Subscription(ConfigKind.SubscriptionOverwritten, p, 2);
            case 0x8020: return Subscription(ConfigKind.SubscriptionAdded, p, LabelOctets);
            case 0x8021: return Subscription(ConfigKind.SubscriptionDeleted, p, LabelOctets);
            case 0x8022: return Subscription(ConfigKind.SubscriptionOverwritten, p, LabelOctets);
            case 0x03 when p.Length >= 4: return Publication(node, timeNs, p, new DescribedAddress(Address(p[2..])), 4);
            case 0x801A when p.Length >= 2 + LabelOctets: return Publication(node, timeNs, p, Label(p[2..]), 2 + LabelOctets);
            case 0x800A when p.Length == 1: return Set(ConfigKind.Beacon, p[0], null);
            case 0x800D when p.Length == 1: return Set(ConfigKind.DefaultTtl, p[0], null);
            case 0x8010 when p.Length == 1: return Set(ConfigKind.Friend, p[0], null);
            case 0x8013 when p.Length == 1: return Set(ConfigKind.Proxy, p[0], null);
            case 0x8024 when p.Length == 1: return Set(ConfigKind.NetworkTransmit, 0, Transmit(p[0]));
            case 0x8027 when p.Length == 2: return Set(ConfigKind.Relay, p[0], Transmit(p[1]));
            case 0x8039 when p.Length == 9: return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.HeartbeatPublication, Address = new DescribedAddress(Address(p)), Value = p[4] };
            case 0x803B when p.Length == 5: return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.HeartbeatSubscription, Address = new DescribedAddress(Address(p)) };
            case 0x8016 when p.Length == 3: return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.KeyRefreshPhase, KeyIndex = Word(p) & 0xFFF, Value = p[2] };
            case 0x8049 when p.IsEmpty: return Of(ConfigKind.NodeReset);
            default: return null;
        }

        ConfigChange Key(ConfigKind kind, int index, int netKey) => new() { TimeNs = timeNs, Node = node, Kind = kind, KeyIndex = index, BoundNetKey = netKey };
        ConfigChange Set(ConfigKind kind, int value, DescribedTransmit? transmit) => new() { TimeNs = timeNs, Node = node, Kind = kind, Value = value, Transmit = transmit };
        ConfigChange? Binding(ConfigKind kind, ReadOnlySpan<byte> octets) => TryReadModel(octets, 0, 4, out ModelInstance model)
            ? new() { TimeNs = timeNs, Node = node, Kind = kind, KeyIndex = Word(octets[2..]) & 0xFFF, Model = model } : null;
        ConfigChange? Subscription(ConfigKind kind, ReadOnlySpan<byte> octets, int addressOctets)
        {
            if (!TryReadModel(octets, 0, 2 + addressOctets, out ModelInstance model))
                return null;
            DescribedAddress address = addressOctets switch { 0 => default, 2 => new DescribedAddress(Address(octets[2..])), _ => Label(octets[2..]) };
            return new() { TimeNs = timeNs, Node = node, Kind = kind, Model = model, Address = address };
        }
    }

    /// <summary>Reads a Status or List as the state it tells. Its kind is that of the request which would have made it so.</summary>
    public static ConfigChange? ReadStatus(MeshAddress node, long timeNs, Opcode opcode, ReadOnlySpan<byte> payload)
    {
        ReadOnlySpan<byte> p = payload[opcode.Octets..];
        switch (opcode.Value)
        {
            case 0x02 when CompositionPage0.TryRead(opcode, payload, out CompositionPage0? page):
                return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.Composition, Composition = page };
            case 0x8044 when p.Length == 3: return Key(ConfigKind.NetKeyAdded, p[0], Word(p[1..]) & 0xFFF, -1);
            case 0x8003 when p.Length == 4: return Key(ConfigKind.AppKeyAdded, p[0], SecondIndex(p[1..]), FirstIndex(p[1..]));
            case 0x8043: return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.NetKeyList, Indexes = Unpack(p) };
            case 0x8002 when p.Length >= 3:
                return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.AppKeyList, StatusCode = p[0], BoundNetKey = Word(p[1..]) & 0xFFF, Indexes = Unpack(p[3..]) };
            case 0x803E when TryReadModel(p, 1, 5, out ModelInstance model):
                return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.KeyBound, StatusCode = p[0], KeyIndex = Word(p[3..]) & 0xFFF, Model = model };
            case 0x801F when TryReadModel(p, 1, 5, out ModelInstance model):
                return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.SubscriptionAdded, StatusCode = p[0], Address = new DescribedAddress(Address(p[3..])), Model = model };
            case 0x802A when p.Length >= 5: return List(ConfigKind.SubscriptionList, p, 2);
            case 0x802C when p.Length >= 7: return List(ConfigKind.SubscriptionList, p, 4);
            case 0x804C when p.Length >= 5: return List(ConfigKind.BindingList, p, 2);
            case 0x804E when p.Length >= 7: return List(ConfigKind.BindingList, p, 4);
            case 0x8019 when p.Length >= 5 && Publication(node, timeNs, p[1..], new DescribedAddress(Address(p[3..])), 4) is { } publication:
                publication.StatusCode = p[0];
                return publication;
            case 0x800B when p.Length == 1: return State(ConfigKind.Beacon, p[0], null);
            case 0x800E when p.Length == 1: return State(ConfigKind.DefaultTtl, p[0], null);
            case 0x8011 when p.Length == 1: return State(ConfigKind.Friend, p[0], null);
            case 0x8014 when p.Length == 1: return State(ConfigKind.Proxy, p[0], null);
            case 0x8025 when p.Length == 1: return State(ConfigKind.NetworkTransmit, 0, Transmit(p[0]));
            case 0x8028 when p.Length == 2: return State(ConfigKind.Relay, p[0], Transmit(p[1]));
            case 0x06 when p.Length == 10:
                return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.HeartbeatPublication, StatusCode = p[0], Address = new DescribedAddress(Address(p[1..])), Value = p[5] };
            case 0x803C when p.Length == 9:
                return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.HeartbeatSubscription, StatusCode = p[0], Address = new DescribedAddress(Address(p[1..])) };
            case 0x8017 when p.Length == 4:
                return new() { TimeNs = timeNs, Node = node, Kind = ConfigKind.KeyRefreshPhase, StatusCode = p[0], KeyIndex = Word(p[1..]) & 0xFFF, Value = p[3] };
            case 0x804A when p.IsEmpty: return State(ConfigKind.NodeReset, 0, null);
            default: return null;
        }

        ConfigChange Key(ConfigKind kind, byte code, int index, int netKey) => new() { TimeNs = timeNs, Node = node, Kind = kind, StatusCode = code, KeyIndex = index, BoundNetKey = netKey };
        ConfigChange State(ConfigKind kind, int value, DescribedTransmit? transmit) => new() { TimeNs = timeNs, Node = node, Kind = kind, Value = value, Transmit = transmit };
        ConfigChange? List(ConfigKind kind, ReadOnlySpan<byte> octets, int modelOctets)
        {
            ReadOnlySpan<byte> rest = octets[(3 + modelOctets)..];
            if (!TryReadModel(octets[..(3 + modelOctets)], 1, 3, out ModelInstance model) || (kind == ConfigKind.SubscriptionList && rest.Length % 2 != 0))
                return null;
            return kind == ConfigKind.BindingList
                ? new() { TimeNs = timeNs, Node = node, Kind = kind, StatusCode = octets[0], Model = model, Indexes = Unpack(rest) }
                : new() { TimeNs = timeNs, Node = node, Kind = kind, StatusCode = octets[0], Model = model, Addresses = Addresses(rest) };
        }
    }

    /// <summary>From the octet behind the publish address on: AppKey index and credential flag, TTL, period, retransmission, model (§4.3.2.16).</summary>
    private static ConfigChange? Publication(MeshAddress node, long timeNs, ReadOnlySpan<byte> p, DescribedAddress address, int at)
    {
        if (!TryReadModel(p, 0, at + 5, out ModelInstance model))
            return null;
        int key = Word(p[at..]);
        byte period = p[at + 3], retransmit = p[at + 4];
        int unitMs = (period >> 6) switch { 0 => 100, 1 => 1_000, 2 => 10_000, _ => 600_000 };
        return new()
        {
            TimeNs = timeNs, Node = node, Kind = ConfigKind.Publication, Model = model,
            Publication = new PublicationState(address with { Label = null }, key & 0xFFF, p[at + 2], (period & 0x3F) * unitMs, retransmit & 7, ((retransmit >> 3) + 1) * 50, (key & 0x1000) != 0),
        };
    }

    /// <summary>A SIG model has 2 octets, a vendor model company and number in 4 (§4.2.22); the length tells which.</summary>
    private static bool TryReadModel(ReadOnlySpan<byte> p, int elementAt, int modelAt, out ModelInstance model)
    {
        model = default;
        if (p.Length == modelAt + 2)
            model = new ModelInstance(Address(p[elementAt..]), new ModelNumber(Word(p[modelAt..])));
        else if (p.Length == modelAt + 4)
            model = new ModelInstance(Address(p[elementAt..]), new ModelNumber(Word(p[(modelAt + 2)..]), Word(p[modelAt..])));
        else
            return false;
        return true;
    }

    /// <summary>Key indexes of 12 bits, two in three octets, an odd last one in two (§4.3.1.1).</summary>
    private static List<int> Unpack(ReadOnlySpan<byte> p)
    {
        var indexes = new List<int>();
        for (; p.Length >= 3; p = p[3..])
        {
            indexes.Add(FirstIndex(p));
            indexes.Add(SecondIndex(p));
        }
        if (p.Length == 2)
            indexes.Add(Word(p) & 0xFFF);
        return indexes;
    }

    private static List<MeshAddress> Addresses(ReadOnlySpan<byte> p)
    {
        var addresses = new List<MeshAddress>();
        for (; p.Length >= 2; p = p[2..])
            addresses.Add(Address(p));
        return addresses;
    }

    /// <summary>The wire counts retransmissions and steps of 10 ms from 1 (§4.2.20, §4.2.21); here transmissions and milliseconds.</summary>
    private static DescribedTransmit Transmit(byte octet) => new((octet & 7) + 1, ((octet >> 3) + 1) * 10);

    private static DescribedAddress Label(ReadOnlySpan<byte> octets) => DescribedAddress.OfLabel(new Guid(octets[..LabelOctets], bigEndian: true));
    private static MeshAddress Address(ReadOnlySpan<byte> octets) => new(Word(octets));
    private static ushort Word(ReadOnlySpan<byte> octets) => BinaryPrimitives.ReadUInt16LittleEndian(octets);
    private static int FirstIndex(ReadOnlySpan<byte> octets) => Word(octets) & 0xFFF;
    private static int SecondIndex(ReadOnlySpan<byte> octets) => Word(octets[1..]) >> 4;
}
