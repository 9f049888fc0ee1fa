using System.Buffers.Binary;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Repeats;

/// <summary>
/// What the nodes are set to on the radio, by the description and by the Config messages heard, in the course of time: Network Transmit, Relay,
/// Default TTL and publish TTLs (Mesh Protocol 1.1 §4.3.2).
/// </summary>
public sealed class RadioSettings
{
    private readonly NodeDirectory _nodes;
    private readonly Dictionary<ushort, List<TransmitSetting>> _networkTransmits = [];
    private readonly Dictionary<ushort, List<(long SinceNs, RelaySetting Setting)>> _relays = [];
    private readonly Dictionary<ushort, List<byte>> _defaultTtls = [];
    private readonly Dictionary<(ushort Element, ushort Dst), List<byte>> _publishTtls = [];
    private readonly Dictionary<(ushort Element, ushort Dst), List<PublishRepeat>> _publishRepeats = [];

    internal RadioSettings(CaptureHistory history, NodeDirectory nodes)
    {
        _nodes = nodes;
        foreach (DescribedNode node in nodes.Description?.Nodes ?? [])
            TakeDescribed(node);
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.Decrypted && message.Key == MessageKey.Device)
                TakeConfig(in message, history.PayloadOf(row)[message.Opcode.Octets..]);
        }
    }

    /// <summary>Network Transmit of a node at a time, or null where nobody said.</summary>
    public TransmitSetting? NetworkTransmitAt(MeshAddress node, long timeNs)
    {
        TransmitSetting? found = TransmitSetting.From(_nodes.Description?.NodeAt(node)?.NetworkTransmit);
        foreach (TransmitSetting setting in _networkTransmits.GetValueOrDefault(node.Value) ?? [])
            if (setting.SinceNs <= timeNs)
                found = setting;
        return found;
    }

    /// <summary>Relay state of a node at a time; unknown where nobody said.</summary>
    public RelaySetting RelayAt(MeshAddress node, long timeNs)
    {
        DescribedNode? described = _nodes.Description?.NodeAt(node);
        var found = new RelaySetting(described?.Features.Relay ?? FeatureState.Unknown, TransmitSetting.From(described?.RelayRetransmit));
        foreach ((long sinceNs, RelaySetting setting) in _relays.GetValueOrDefault(node.Value) ?? [])
            if (sinceNs <= timeNs)
                found = setting;
        return found;
    }

    /// <summary>When Network Transmit of a node was last told or asked to be another; <see cref="long.MinValue"/> if never.</summary>
    internal long LastNetworkTransmitChange(MeshAddress node)
    {
        TransmitSetting? before = TransmitSetting.From(_nodes.Description?.NodeAt(node)?.NetworkTransmit);
        long last = long.MinValue;
        foreach (TransmitSetting setting in _networkTransmits.GetValueOrDefault(node.Value) ?? [])
        {
            if (before is not { } old || !old.SameAs(setting))
                last = setting.SinceNs;
            before = setting;
        }
        return last;
    }

    /// <summary>Likewise for Relay Retransmit.</summary>
    internal long LastRelayChange(MeshAddress node)
    {
        TransmitSetting? before = TransmitSetting.From(_nodes.Description?.NodeAt(node)?.RelayRetransmit);
        long last = long.MinValue;
        foreach ((long sinceNs, RelaySetting setting) in _relays.GetValueOrDefault(node.Value) ?? [])
        {
            if (setting.Retransmit is not { } now)
                continue;
            if (before is not { } old || !old.SameAs(now))
                last = sinceNs;
            before = now;
        }
        return last;
    }

    /// <summary>How an element is set to repeat what it publishes to an address, as all that was said of it; empty where nothing was.</summary>
    public IReadOnlyList<PublishRepeat> PublishRepeatsOf(MeshAddress element, MeshAddress dst) => _publishRepeats.GetValueOrDefault((element.Value, dst.Value)) ?? [];

    /// <summary>True if every word about the node says that it does not relay.</summary>
    internal bool NeverRelays(MeshAddress node)
    {
        bool off = _nodes.Description?.NodeAt(node)?.Features.Relay is FeatureState.Disabled or FeatureState.NotSupported;
        foreach ((_, RelaySetting setting) in _relays.GetValueOrDefault(node.Value) ?? [])
            off &= setting.Relay != FeatureState.Enabled;
        return off;
    }

    /// <summary>The TTLs with which an element may send to an address, as bits; 0 where nobody said.</summary>
    internal UInt128 OriginalTtls(MeshAddress src, MeshAddress dst, bool ctl)
    {
        UInt128 ttls = 0;
        List<byte>? defaults = _defaultTtls.GetValueOrDefault(_nodes.NodeOf(src).Value);
        bool published = _publishTtls.TryGetValue((src.Value, dst.Value), out List<byte>? publish);
        if (published && !ctl)
        {
            foreach (byte ttl in publish!)
            {
                if (ttl != UsesDefaultTtl)
                    ttls |= UInt128.One << (ttl & 0x7F);
                else if (defaults is null)
                    return 0;
            }
            if (!publish.Contains(UsesDefaultTtl))
                return ttls;
        }
        foreach (byte ttl in defaults ?? [])
            ttls |= UInt128.One << (ttl & 0x7F);
        return ttls;
    }

    /// <summary>Publish TTL 0xFF stands for the Default TTL (§4.2.3).</summary>
    private const byte UsesDefaultTtl = 0xFF;

    private void TakeDescribed(DescribedNode node)
    {
        if (node.DefaultTtl is { } ttl and >= 0 and <= 127)
            _defaultTtls[node.Unicast.Value] = [(byte)ttl];
        foreach (DescribedElement element in node.Elements)
            foreach (DescribedModel model in element.Models)
            {
                if (model.Publish is not { } publish)
                    continue;
                var key = (element.Address.Value, publish.Address.Address.Value);
                if (publish.Ttl is { } publishTtl and >= 0 and <= 255)
                    Entry(_publishTtls, key).Add((byte)publishTtl);
                if (publish is { RetransmitCount: { } count, RetransmitIntervalMs: { } intervalMs })
                    Entry(_publishRepeats, key).Add(new PublishRepeat(count + 1, intervalMs));
            }
    }

    private void TakeConfig(in MessageRow message, ReadOnlySpan<byte> parameters)
    {
        ushort asked = _nodes.NodeOf(message.Dst).Value, tells = _nodes.NodeOf(message.Src).Value;
        switch (message.Opcode.Value)
        {
            case 0x800D when parameters.Length == 1:    // Config Default TTL Set
                Entry(_defaultTtls, asked).Add(parameters[0]);
                break;
            case 0x800E when parameters.Length == 1:    // Config Default TTL Status
                Entry(_defaultTtls, tells).Add(parameters[0]);
                break;
            case 0x8024 when parameters.Length == 1:    // Config Network Transmit Set
                Entry(_networkTransmits, asked).Add(TransmitSetting.FromWire(parameters[0], SettingOrigin.Asked, message.TimeNs));
                break;
            case 0x8025 when parameters.Length == 1:    // Config Network Transmit Status
                Entry(_networkTransmits, tells).Add(TransmitSetting.FromWire(parameters[0], SettingOrigin.Told, message.TimeNs));
                break;
            case 0x8027 when parameters.Length == 2:    // Config Relay Set
                TakeRelay(asked, parameters, SettingOrigin.Asked, message.TimeNs);
                break;
            case 0x8028 when parameters.Length == 2:    // Config Relay Status
                TakeRelay(tells, parameters, SettingOrigin.Told, message.TimeNs);
                break;
            case 0x03 when parameters.Length >= 9:      // Config Model Publication Set
                TakePublication(parameters);
                break;
            case 0x8019 when parameters.Length >= 10 && parameters[0] == 0:      // Config Model Publication Status
                TakePublication(parameters[1..]);
                break;
        }
    }

    private void TakeRelay(ushort node, ReadOnlySpan<byte> parameters, SettingOrigin origin, long timeNs) =>
        Entry(_relays, node).Add((timeNs, new RelaySetting(parameters[0] <= 2 ? (FeatureState)parameters[0] : FeatureState.Unknown,
            TransmitSetting.FromWire(parameters[1], origin, timeNs))));

    /// <summary>
    /// ElementAddress(16) | PublishAddress(16) | AppKeyIndex(12), flag and RFU(4) | PublishTTL(8) | PublishPeriod(8) | retransmit count(3) and interval
    /// steps of 50 ms less one(5), low octets first (§4.3.2.16).
    /// </summary>
    private void TakePublication(ReadOnlySpan<byte> parameters)
    {
        var key = (BinaryPrimitives.ReadUInt16LittleEndian(parameters), BinaryPrimitives.ReadUInt16LittleEndian(parameters[2..]));
        Entry(_publishTtls, key).Add(parameters[6]);
        Entry(_publishRepeats, key).Add(new PublishRepeat((parameters[8] & 0x07) + 1, ((parameters[8] >> 3) + 1) * 50));
    }

    private static List<T> Entry<TKey, T>(Dictionary<TKey, List<T>> table, TKey key) where TKey : notnull
    {
        if (!table.TryGetValue(key, out List<T>? entry))
            table[key] = entry = [];
        return entry;
    }
}
