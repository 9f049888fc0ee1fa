using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Completeness;

/// <summary>Goes once over all frames: how many each receiver gave in each short slot of time, and on which channels.</summary>
internal sealed class ReceiverWatch
{
    /// <summary>Slots of a quarter second; longer ones where the capture spans so long that there would be too many, or a frame a slot at most.</summary>
    private const long ShortestSlotNs = 250_000_000;
    private const int MostSlots = 1 << 20;

    /// <summary>Frames with a channel from which on a plan is told.</summary>
    private const long EnoughFrames = 50;

    /// <summary>Nearly all frames on one channel: it is the only one. Several packets of one event this often: channels are heard at once (thresholds ours).</summary>
    private const double NearlyAll = 0.98, OftenTogether = 0.05;

    /// <summary>Two packets of one advertising event follow each other within this, in practice (common practice, no source).</summary>
    private const long LongestPacketGapNs = 3_000_000;

    private readonly List<Tally> _tallies = [];
    private readonly long _firstNs;

    /// <summary>Slot of the frame before: the next one mostly falls into it too.</summary>
    private int _slot;
    private long _slotBeginNs, _slotEndNs = long.MinValue;

    public ReceiverWatch(CaptureHistory history)
    {
        (long first, long last) = history.TimeSpanNs ?? (0, 0);
        _firstNs = first;
        int slots = Math.Max(1, MostSlots / Math.Max(1, history.Receivers.Count));      // of each receiver: a file may claim thousands of them
        SlotNs = Math.Max(ShortestSlotNs, (last - first) / Math.Clamp(history.Frames.Count, 1, slots));
        Slots = (int)((last - first) / SlotNs) + 1;
        foreach (ReceiverDescription receiver in history.Receivers)
            TallyOf(receiver.Index);
        for (int row = 0; row < history.Frames.Count; row++)
            Take(in history.Frames[row], row);
    }

    public long SlotNs { get; }
    public int Slots { get; }
    public int Receivers => _tallies.Count;

    /// <summary>Frames of a receiver in each slot, and the first frame row of each slot (-1: none); empty where it gave no frame with a time.</summary>
    public (int[] Frames, int[] FirstRows) SlotsOf(int receiver) => (_tallies[receiver].Slots, _tallies[receiver].FirstRows);

    /// <summary>Frames of a receiver with a wrong CRC in each slot; empty where it gave none.</summary>
    public int[] BadOf(int receiver) => _tallies[receiver].BadSlots;

    public long BeginOf(int slot) => _firstNs + (slot * SlotNs);

    public List<ReceiverView> Views() => [.. _tallies.Select((tally, receiver) => tally.ToView(receiver))];

    private void Take(in FrameRow frame, int row)
    {
        Tally tally = TallyOf(frame.ReceiverField);
        tally.Frames++;
        if (frame.Crc == CrcState.Bad)
            tally.BadCrc++;
        int channel = frame.ChannelField;
        if (channel is >= 37 and <= 39)
        {
            tally.Channels[channel - 37]++;
            ulong advertiser = frame.Advertiser;
            if (advertiser == tally.LastAdvertiser && channel > tally.LastChannel && frame.TimeNs - tally.LastNs is >= 0 and < LongestPacketGapNs)
                tally.Together++;
            (tally.LastAdvertiser, tally.LastChannel, tally.LastNs) = (advertiser, channel, frame.TimeNs);
        }
        if (frame.TimeNs == CapturedFrame.NoTime || (frame.CarriesField & Carries.Connection) != 0)
            return;     // who follows a connection hears no advertising meanwhile
        if (tally.Slots.Length == 0)
        {
            (tally.Slots, tally.FirstRows) = (new int[Slots], new int[Slots]);
            Array.Fill(tally.FirstRows, -1);
        }
        if (frame.TimeNs >= _slotEndNs || frame.TimeNs < _slotBeginNs)
        {
            _slot = (int)((frame.TimeNs - _firstNs) / SlotNs);
            _slotBeginNs = BeginOf(_slot);
            _slotEndNs = _slotBeginNs + SlotNs;
        }
        if (tally.Slots[_slot]++ == 0)
            tally.FirstRows[_slot] = row;
        if (frame.Crc == CrcState.Bad)
        {
            if (tally.BadSlots.Length == 0)
                tally.BadSlots = new int[Slots];
            tally.BadSlots[_slot]++;
        }
    }

    private Tally TallyOf(int receiver)
    {
        while (_tallies.Count <= receiver)
            _tallies.Add(new Tally());
        return _tallies[receiver];
    }

    private sealed class Tally
    {
        public int[] Slots = [], FirstRows = [], BadSlots = [];
        public long Frames, BadCrc, Together, LastNs;
        public ulong LastAdvertiser;
        public int LastChannel;
        public long[] Channels { get; } = new long[3];

        public ReceiverView ToView(int receiver)
        {
            long told = Channels[0] + Channels[1] + Channels[2], most = Channels.Max();
            ChannelPlan plan = told < EnoughFrames ? ChannelPlan.Unknown
                : most >= NearlyAll * told ? ChannelPlan.OneChannel
                : Together >= OftenTogether * told ? ChannelPlan.AllAtOnce
                : ChannelPlan.Hopping;
            int? channel = plan == ChannelPlan.OneChannel ? 37 + Array.IndexOf(Channels, most) : null;
            return new ReceiverView(receiver, plan, channel, Frames, Channels[0], Channels[1], Channels[2], BadCrc);
        }
    }
}
