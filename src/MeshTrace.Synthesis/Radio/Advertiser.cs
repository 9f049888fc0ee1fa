using MeshTrace.Protocol.Link;

namespace MeshTrace.Synthesis.Radio;

/// <summary>How often a PDU is sent and how far apart (Network Transmit and Relay Retransmit, Mesh Protocol 1.1 §4.2.20,
/// §4.2.21).</summary>
/// <param name="Transmissions">1-8; the wire counts one less (retransmissions).</param>
/// <param name="IntervalMs">10-320 in steps of 10; each interval is lengthened by a random 0-10 ms.</param>
public readonly record struct Repetition(int Transmissions, int IntervalMs);

/// <summary>How a station picks its advertiser address.</summary>
public enum AddressHabit : byte
{
    /// <summary>A static random address, always the same.</summary>
    Static,

    /// <summary>A public address, always the same.</summary>
    Public,

    /// <summary>A non-resolvable private address, changed every so often.</summary>
    Rotating,

    /// <summary>A new non-resolvable private address for each PDU.</summary>
    EachPdu,
}

/// <summary>
/// The advertising bearer of one station: sends PDUs on channels 37, 38, 39, each the wanted number of times, one advertising event at a
/// time.
/// </summary>
internal sealed class Advertiser
{
    /// <summary>advDelay: each advertising event is late by a random 0-10 ms (Core Specification, volume 6 part B §4.4.2.2).</summary>
    internal const int MostAdvDelayUs = 10_000;

    private const int GapUs = 250;   // between the packets of an event; common practice, no source
    private readonly Timeline _time;
    private readonly Medium _medium;
    private readonly Randomness _random;
    private readonly AddressHabit _habit;
    private readonly long _rotationUs;
    private readonly int[] _channels;
    private ulong _address;
    private long _addressUntilUs = long.MaxValue;

    internal Advertiser(Timeline time, Medium medium, Station station, Randomness random, AddressHabit habit, long rotationUs = 900_000_000,
        int[]? channels = null)
    {
        (_time, _medium, Station, _random, _habit, _rotationUs, _channels) =
            (time, medium, station, random, habit, rotationUs, channels ?? [37, 38, 39]);
        _address = NewAddress();
        if (habit == AddressHabit.Rotating)
            _addressUntilUs = random.Below(rotationUs);
    }

    internal Station Station { get; }

    /// <summary>The address by which it can be reached now.</summary>
    internal (ulong Address, bool IsRandom) Reachable => (Address(), _habit != AddressHabit.Public);

    /// <summary>Sends the AdvData after <paramref name="delayUs"/>. <paramref name="record"/> makes the truth's line when an event is
    /// sent.</summary>
    internal void Send(byte[] advData, Repetition repetition, long delayUs, object? cargo = null, Func<long, object?>? record = null,
        AdvertisingPduType pduType = AdvertisingPduType.AdvNonconnInd) =>
        new Job(this, advData, repetition, cargo, record, pduType, _habit == AddressHabit.EachPdu ? NewAddress() : null).Start(delayUs);

    private ulong Address()
    {
        if (_habit == AddressHabit.Rotating && _time.NowUs >= _addressUntilUs)
        {
            _address = NewAddress();
            _addressUntilUs = _time.NowUs + _rotationUs;
        }
        return _address;
    }

    private ulong NewAddress()
    {
        ulong bits = _random.Next64() & 0x3FFF_FFFF_FFFF;   // top two bits: 11 static, 00 non-resolvable private
        return _habit switch
        {
            AddressHabit.Static => bits | 0xC000_0000_0000,
            AddressHabit.Public => bits | 0x0200_0000_0000,   // locally administered: no maker's block
            _ => bits,
        };
    }

    /// <summary>One PDU and its repetitions.</summary>
    private sealed class Job(
        Advertiser bearer, byte[] advData, Repetition repetition, object? cargo, Func<long, object?>? record, AdvertisingPduType pduType,
            ulong? address) : Occurrence
    {
        private int _left = repetition.Transmissions;

        internal void Start(long delayUs) => bearer._time.At(bearer._time.NowUs + delayUs, this);

        internal override void Happen()
        {
            if (!bearer.Station.On)
                return;
            long now = bearer._time.NowUs;
            if (bearer.Station.BusyUntilUs >= now)
            {
                bearer._time.At(bearer.Station.BusyUntilUs + bearer._random.Between(200, 2000), this);
                return;
            }
            bearer._medium.Send(
                new AdvertisingEvent
                {
                    From = bearer.Station, Advertiser = address ?? bearer.Address(),
                    AdvertiserIsRandom = bearer._habit != AddressHabit.Public, PduType = pduType,
                    AdvData = advData, Cargo = cargo, Record = record?.Invoke(now),
                },
                bearer._channels, GapUs);
            if (--_left > 0)
                bearer._time.At(now + (repetition.IntervalMs * 1000L) + bearer._random.Below(MostAdvDelayUs), this);
        }
    }
}
