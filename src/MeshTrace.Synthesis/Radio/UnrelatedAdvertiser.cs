using System.Buffers.Binary;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Synthesis.Radio;

/// <summary>Something that advertises and has nothing to do with the network: a phone, a tag, a neighbour's mesh node.</summary>
internal abstract class UnrelatedAdvertiser(Timeline time, Randomness random, long intervalUs, long untilUs)
{
    protected Timeline Time { get; } = time;
    protected Randomness Random { get; } = random;
    protected static Repetition Once => new(1, 10);

    /// <summary>Sends one event and enters the next one, until it leaves.</summary>
    internal void Go()
    {
        if (Time.NowUs >= untilUs)
            return;
        SendOne();
        Time.After(intervalUs + Random.Below(Advertiser.MostAdvDelayUs), Go);
    }

    protected abstract void SendOne();
}

/// <summary>A phone or a tag: flags and manufacturer data of the company identifier for tests, connectable or not.</summary>
internal sealed class GadgetAdvertiser : UnrelatedAdvertiser
{
    private readonly Advertiser _bearer;
    private readonly byte[] _advData;
    private readonly AdvertisingPduType _pduType;

    internal GadgetAdvertiser(Timeline time, Advertiser bearer, Randomness random, long intervalUs, long untilUs, bool isTag)
        : base(time, random, intervalUs, untilUs)
    {
        _bearer = bearer;
        _pduType = isTag ? AdvertisingPduType.AdvNonconnInd : AdvertisingPduType.AdvInd;
        Span<byte> manufacturer = stackalloc byte[isTag ? 24 : 2 + (int)random.Between(4, 18)];
        random.Fill(manufacturer);
        BinaryPrimitives.WriteUInt16LittleEndian(manufacturer, 0xFFFF);
        _advData = new byte[3 + 2 + manufacturer.Length];
        int at = AdStructureWriter.Write(_advData, AdType.Flags, [(byte)(isTag ? 0x04 : 0x1A)]);
        AdStructureWriter.Write(_advData.AsSpan(at), AdType.ManufacturerSpecificData, manufacturer);
    }

    protected override void SendOne() => _bearer.Send(_advData, Once, 0, null, null, _pduType);
}

/// <summary>A node of another mesh network: real Network PDUs and beacons under keys that nobody here has.</summary>
internal sealed class NeighbourAdvertiser(Timeline time, Advertiser bearer, Randomness random, long intervalUs, long untilUs)
    : UnrelatedAdvertiser(time, random, intervalUs, untilUs)
{
    private readonly NetKeyMaterial _keys = new(Scenarios.ScenarioReader.KeyFrom(random.Fork("neighbour")));
    private uint _sequence = (uint)random.Below(100_000);

    protected override void SendOne()
    {
        Span<byte> octets = stackalloc byte[NetworkSecurity.LongestPdu];
        byte[] advData;
        if (_sequence % 8 == 0)
        {
            int beaconLength = SecureNetworkBeacon.Write(octets, default, _keys.NetworkId, 3, _keys.BeaconKey);
            advData = new byte[beaconLength + 2];
            AdStructureWriter.Write(advData, AdType.MeshBeacon, octets[..beaconLength]);
            bearer.Send(advData, Once, 0);
            _sequence++;
            return;
        }
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu], transport = stackalloc byte[(int)Random.Between(8, 16)];
        Random.Fill(transport);
        transport[0] &= 0x7F;   // unsegmented
        int length = NetworkSecurity.Write(clear, 3, _keys.Flooding.Nid, false, (byte)Random.Between(3, 5), _sequence++,
            new MeshAddress((ushort)Random.Between(2, 9)),
            new MeshAddress(0xC000), transport);
        length = NetworkSecurity.Encrypt(clear[..length], _keys.Flooding, 3, octets);
        advData = new byte[length + 2];
        AdStructureWriter.Write(advData, AdType.MeshMessage, octets[..length]);
        bearer.Send(advData, new Repetition(3, 20), 0);
    }
}

/// <summary>Energy at one place: bursts of a few milliseconds on its channels, for a given share of the time.</summary>
internal sealed class Interferer(Timeline time, Medium medium, Station station, Randomness random, double duty, int[] channels,
    long untilUs)
{
    private const long CycleUs = 4000;

    internal void Go()
    {
        if (time.NowUs >= untilUs)
            return;
        long length = (long)(CycleUs * duty);
        if (length > 0)
        {
            foreach (int channel in channels)
                medium.Disturb(station, channel, length);
        }
        time.After(CycleUs + random.Below(CycleUs / 4), Go);
    }
}
