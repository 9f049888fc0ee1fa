using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Receivers;

/// <summary>Takes the frames of all receivers in the order in which they were received.</summary>
internal interface IFrameSink
{
    void Write(int receiver, long timeNs, ReadOnlySpan<byte> octets, bool crcError);
}

/// <summary>A capturing receiver: one interface of the capture file.</summary>
internal sealed class SimulatedReceiver(int index, ReceiverPlan plan, long startNs, IFrameSink sink, Randomness random) : IListener
{
    /// <summary>The truth marks hearings in 64 bits, three channels a receiver.</summary>
    internal const int MostReceivers = 21;

    /// <summary>A packet weaker than the sensitivity by up to this much may still be caught with wrong bits. Common practice, no
    /// source.</summary>
    private const int DamagedBelowDb = 4;

    private readonly byte[] _frame = new byte[LeLinkLayerWriter.LongestFrame];
    private ushort _packetCounter;
    private long _lastEndUs;
    private readonly byte[] _damaged = new byte[AirTime.LongestAdvData];

    internal ReceiverPlan Plan { get; } = plan;
    internal long Frames { get; private set; }
    internal long DamagedFrames { get; private set; }
    internal long UnrelatedFrames { get; private set; }

    public void Hear(Transmission packet, int rssiDbm)
    {
        if (IsDeaf(packet.StartUs) || (Plan.Follows is { } followed && packet.From.Name != followed) || (Plan.HeardShare < 1 && !random.Chance(Plan.HeardShare)))
            return;
        Capture(packet, rssiDbm, packet.What!.AdvData, false);
        if (packet.What.Record is EventTruth sent)
            sent.Heard |= Bit(packet.Channel);
        else if (packet.What.Cargo is null)
            UnrelatedFrames++;
    }

    public void Miss(Transmission packet, int rssiDbm, Missed reason)
    {
        bool detected = reason switch
        {
            Missed.Collided => rssiDbm >= Plan.SensitivityDbm,
            Missed.Weak => rssiDbm >= Plan.SensitivityDbm - DamagedBelowDb,
            _ => false,
        };
        if (!Plan.KeepsDamaged || Plan.Follows is not null || Plan.LinkType == LinkType.HciH4 || !detected || packet.What!.AdvData.Length == 0
            || IsDeaf(packet.StartUs) || !random.Chance(Plan.HeardShare * 0.5))
            return;
        var octets = _damaged.AsSpan(0, packet.What.AdvData.Length);
        packet.What.AdvData.CopyTo(octets);
        for (int i = (int)random.Between(1, 4); i > 0; i--)
            octets[(int)random.Below(octets.Length)] ^= (byte)(1 << (int)random.Below(8));
        Capture(packet, rssiDbm, octets, true);
        DamagedFrames++;
        if (packet.What.Record is EventTruth sent)
            sent.Damaged |= Bit(packet.Channel);
    }

    private ulong Bit(int channel) => 1UL << ((3 * index) + channel - 37);

    private bool IsDeaf(long timeUs) => Plan.Deaf.Count > 0 && Plan.Deaf.Exists(span => timeUs >= span.FromUs && timeUs < span.UntilUs);

    private void Capture(Transmission packet, int rssiDbm, ReadOnlySpan<byte> advData, bool corruptCrc)
    {
        Frames++;
        AdvertisingEvent what = packet.What!;
        int length;
        if (Plan.LinkType == LinkType.HciH4)
            length = HciReportWriter.Write(_frame, Plan.LinkType, what.PduType, what.Advertiser, what.AdvertiserIsRandom, advData, rssiDbm);
        else
        {
            uint deltaUs = (uint)Math.Max(0, packet.StartUs - _lastEndUs);
            length = LeLinkLayerWriter.Write(_frame, Plan.LinkType, what.PduType, what.Advertiser, what.AdvertiserIsRandom, advData,
                packet.Channel, rssiDbm,
                corruptCrc, unchecked(_packetCounter++), deltaUs);
        }
        _lastEndUs = packet.EndUs;
        // A receiver stamps a packet when it is complete, with its own clock.
        long us = packet.EndUs + Plan.ClockOffsetUs + (packet.EndUs * Plan.ClockDriftPpm / 1_000_000);
        sink.Write(index, startNs + (us * 1000), _frame.AsSpan(0, length), corruptCrc);
    }
}
