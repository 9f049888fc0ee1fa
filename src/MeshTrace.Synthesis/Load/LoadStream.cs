using System.Buffers.Binary;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Network;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Load;

/// <summary>The frames of a load capture in order of time. Only frames that are still to come are held.</summary>
internal sealed class LoadStream
{
    /// <summary>So many unrelated advertisers take turns.</summary>
    private const int Gadgets = 400;
    private const byte FirstTtl = 7;

    /// <summary>A network's beacon comes every 10 s (Mesh Protocol 1.1 §3.10.3.1), but with very many networks beacons stay below 2 % of
    /// the frames.</summary>
    private const long BeaconEveryUs = 10_000_000;
    private const double MostBeacons = 0.02;

    private readonly LoadPlan _plan;
    private readonly List<LoadNetwork> _networks;
    private readonly Randomness _random;
    private readonly MomentHeap<Pending> _pending = new();
    private readonly (byte[] AdvData, ulong Advertiser, sbyte RssiDbm, AdvertisingPduType Type)[] _gadgets =
        new (byte[], ulong, sbyte, AdvertisingPduType)[Gadgets];
    private readonly long _unrelatedGapUs, _meshGapUs;
    private long _mesh, _beacons, _unrelated, _floods, _knownFloods, _distinct, _presses;

    internal LoadStream(LoadPlan plan, List<LoadNetwork> networks)
    {
        (_plan, _networks) = (plan, networks);
        _random = new Randomness(plan.Seed).Fork("stream");
        _unrelatedGapUs = Gap(plan.UnrelatedShare);
        _meshGapUs = networks.Count == 0 ? long.MaxValue / 4 : Gap(1 - plan.UnrelatedShare);
        Span<byte> octets = stackalloc byte[AirTime.LongestAdvData];
        for (int i = 0; i < Gadgets; i++)
        {
            byte[] advData = new byte[(int)_random.Between(12, 31)];
            int at = AdStructureWriter.Write(advData, AdType.Flags, [0x1A]);
            Span<byte> manufacturer = octets[..(advData.Length - at - 2)];
            _random.Fill(manufacturer);
            BinaryPrimitives.WriteUInt16LittleEndian(manufacturer, 0xFFFF);
            AdStructureWriter.Write(advData.AsSpan(at), AdType.ManufacturerSpecificData, manufacturer);
            _gadgets[i] = (advData, _random.Next64() & 0x3FFF_FFFF_FFFF, (sbyte)_random.Between(-95, -40),
                i % 3 == 0 ? AdvertisingPduType.AdvNonconnInd : AdvertisingPduType.AdvInd);
        }
    }

    /// <summary>A frame that is due.</summary>
    private readonly record struct Pending(byte[] AdvData, ulong Advertiser, sbyte RssiDbm, byte Channel, bool IsBeacon);

    /// <summary>Mean µs between two frames of a kind that makes up that share; never, where it has none.</summary>
    private long Gap(double share) => share <= 0 ? long.MaxValue / 4 : Math.Max(1, (long)(1_000_000 / (_plan.FramesPerSecond * share)));

    internal LoadSummary WriteTo(Stream capture)
    {
        using (var writer = new PcapNgWriter(capture, leaveOpen: true))
            WriteFrames(writer);
        return new LoadSummary(_plan.Frames, _mesh, _beacons, _unrelated, _floods, _knownFloods, _distinct, _presses,
            capture.CanSeek ? capture.Position : 0);
    }

    private void WriteFrames(PcapNgWriter writer)
    {
        int receiver = writer.AddInterface(_plan.LinkType, "load");
        Span<byte> frame = stackalloc byte[LeLinkLayerWriter.LongestFrame];
        long pressUs = _meshGapUs, beaconUs = _meshGapUs, unrelatedUs = _unrelatedGapUs;
        for (long written = 0; written < _plan.Frames;)
        {
            long dueUs = _pending.Count > 0 ? _pending.FirstTime : long.MaxValue;
            long timeUs = Math.Min(Math.Min(dueUs, unrelatedUs), Math.Min(pressUs, beaconUs));
            int length;
            if (timeUs == pressUs)
            {
                // The next press comes when this one's frames have used up their share of the time.
                pressUs += Math.Max(1, AddPress(pressUs) * _meshGapUs);
                continue;
            }
            if (timeUs == beaconUs)
            {
                AddBeacons(beaconUs);
                beaconUs += Math.Max(BeaconEveryUs, (long)(_networks.Count * 1e6 / (_plan.FramesPerSecond * MostBeacons)));
                continue;
            }
            if (timeUs == dueUs)
            {
                Pending next = _pending.TakeFirst();
                length = LeLinkLayerWriter.Write(frame, _plan.LinkType, AdvertisingPduType.AdvNonconnInd, next.Advertiser, true,
                    next.AdvData, next.Channel, next.RssiDbm);
                _beacons += next.IsBeacon ? 1 : 0;
                _mesh += next.IsBeacon ? 0 : 1;
            }
            else
            {
                ref readonly var gadget = ref _gadgets[_random.Below(Gadgets)];
                length = LeLinkLayerWriter.Write(frame, _plan.LinkType, gadget.Type, gadget.Advertiser, true, gadget.AdvData,
                    (int)_random.Between(37, 39), gadget.RssiDbm);
                _unrelated++;
                unrelatedUs += 1 + _random.Below(2 * _unrelatedGapUs);
            }
            writer.Write(receiver, LoadComposer.StartNs + (timeUs * 1000), frame[..length]);
            written++;
        }
    }

    private void AddBeacons(long timeUs)
    {
        foreach (LoadNetwork network in _networks)
        {
            LoadNode node = network.Nodes[_random.Below(network.Nodes.Length)];
            _pending.Add(timeUs + _random.Below(1_000_000),
                new Pending(network.Beacon, node.Advertiser, node.RssiDbm, (byte)_random.Between(37, 39), true));
        }
    }

    /// <summary>A panel asks its group, some of the lamps answer with a Status. Returns the frames it makes.</summary>
    private int AddPress(long timeUs)
    {
        LoadNetwork network = _networks[(int)_random.Below(_networks.Count)];
        int panel =
            (int)_random.Below((network.Nodes.Length + LoadNetwork.NodesPerPanel - 1) / LoadNetwork.NodesPerPanel) * LoadNetwork.NodesPerPanel;
        LoadNode src = network.Nodes[panel];
        byte onOff = (byte)_random.Below(2);
        int frames = AddFlood(network, src, LoadNetwork.GroupOf(src), [0x82, 0x02, onOff, src.Tid++], ref timeUs);
        _presses += network.Known ? 1 : 0;
        for (int lamp = panel + 1; lamp < Math.Min(panel + LoadNetwork.NodesPerPanel, network.Nodes.Length); lamp++)
        {
            if (!_random.Chance(0.6))
                continue;
            long answerUs = timeUs + _random.Between(20_000, 500_000);
            frames += AddFlood(network, network.Nodes[lamp], src.Unicast, [0x82, 0x04, onOff], ref answerUs);
        }
        return frames;
    }

    /// <summary>One Network PDU: heard from its source, then from relays at falling TTLs, about as often as the plan wants. Returns the
    /// copies.</summary>
    private int AddFlood(LoadNetwork network, LoadNode src, MeshAddress dst, ReadOnlySpan<byte> payload, ref long timeUs)
    {
        timeUs = Math.Max(timeUs, src.FreeAtUs);
        src.FreeAtUs = timeUs + 100_000;
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        clear = clear[..network.WriteClear(clear, src, dst, payload)];
        int copies = (int)_random.Between(Math.Max(1, _plan.CopiesPerFlood / 2), Math.Max(1, _plan.CopiesPerFlood * 3 / 2));
        long atUs = timeUs;
        byte ttl = FirstTtl;
        LoadNode from = src;
        byte[] advData = network.Encrypt(clear, ttl);
        _distinct++;
        for (int copy = 0, sent = 0; copy < copies; copy++)
        {
            _pending.Add(atUs, new Pending(advData, from.Advertiser, from.RssiDbm, (byte)_random.Between(37, 39), false));
            atUs += _random.Between(2000, 30_000);
            if (++sent < 3 || copy + 1 == copies)
                continue;
            // Another station relays it, three times as well; now and then one that is a hop further.
            sent = 0;
            from = network.Nodes[(int)_random.Below(network.Nodes.Length)];
            if (ttl == FirstTtl || (ttl > 2 && _random.Chance(0.6)))
            {
                advData = network.Encrypt(clear, --ttl);
                _distinct++;
            }
        }
        _floods++;
        _knownFloods += network.Known ? 1 : 0;
        return copies;
    }
}
