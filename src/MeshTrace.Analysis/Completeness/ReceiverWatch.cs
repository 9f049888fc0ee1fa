using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Completeness;

/// <summary>Goes over frames: how many each receiver gave in each short slot of time, and on which channels.</summary>
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
    private const ulong LongestPacketGapNs = 3_000_000;

    private readonly List<Tally> _tallies = [];
    private readonly long _firstNs;

    private readonly bool _backwards;

    /// <summary>Receiver of the frame before: the next one is mostly of the same.</summary>
    private int _receiver = -1;
    private Tally _tally = new(knowsEdge: false);

    /// <summary>Slot of the frame before: the next one mostly falls into it too.</summary>
    private int _slot;
    private long _slotBeginNs, _slotEndNs = long.MinValue;

    /// <param name="history">Its time span and receivers are known.</param>
    /// <param name="backwards">The frames will come from the last one to the first.</param>
    public ReceiverWatch(CaptureHistory history, bool backwards)
    {
        _backwards = backwards;
        (long first, long last) = history.TimeSpanNs ?? (0, 0);
        _firstNs = first;
        int slots = Math.Max(1, MostSlots / Math.Max(1, history.Receivers.Count));      // of each receiver: a file may claim thousands of them
        SlotNs = Math.Max(ShortestSlotNs, (last - first) / Math.Clamp(history.Frames.Count, 1, slots));
        Slots = (int)((last - first) / SlotNs) + 1;
        foreach (ReceiverDescription receiver in history.Receivers)
            TallyOf(receiver.Index);
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

    /// <summary>Takes the frames of one chunk.</summary>
    /// <param name="rows">The rows, in their order.</param>
    /// <param name="first">Row of the first one.</param>
    public void Take(ReadOnlySpan<FrameRow> rows, int first)
    {
        if (_backwards)
        {
            for (int at = rows.Length - 1; at >= 0; at--)
                Take(in rows[at], first + at);
            return;
        }
        for (int at = 0; at < rows.Length; at++)
            Take(in rows[at], first + at);
    }

    /// <summary>Adds what was gone over backwards, down to the frame behind the last one that was taken here.</summary>
    public void Join(ReceiverWatch later)
    {
        for (int receiver = 0; receiver < later.Receivers; receiver++)
            TallyOf(receiver).Join(later._tallies[receiver]);
    }

    private void Take(in FrameRow frame, int row)
    {
        if (frame.ReceiverField != _receiver)
            _tally = TallyOf(_receiver = frame.ReceiverField);
        Tally tally = _tally;
        tally.Frames++;
        ulong packed = frame.Packed;
        long timeNs = frame.TimeNsField;
        bool bad = (CrcState)(packed >> 62) == CrcState.Bad;
        int channel = (int)(packed >> 56) & 63;
        if (channel is >= 37 and <= 39)
        {
            tally.Channels[channel - 37]++;
            tally.Follow((packed & FrameRow.AdvertiserMark) != 0 ? packed & FrameRow.AddressMask : 0, channel, timeNs, _backwards);
        }
        if (bad)
            tally.BadCrc++;
        if (timeNs == CapturedFrame.NoTime || (frame.CarriesField & Carries.Connection) != 0)
            return;     // who follows a connection hears no advertising meanwhile
        if (tally.Slots.Length == 0)
        {
            (tally.Slots, tally.FirstRows) = (new int[Slots], new int[Slots]);
            Array.Fill(tally.FirstRows, -1);
        }
        if (timeNs >= _slotEndNs || timeNs < _slotBeginNs)
        {
            _slot = (int)((timeNs - _firstNs) / SlotNs);
            _slotBeginNs = BeginOf(_slot);
            _slotEndNs = _slotBeginNs + SlotNs;
        }
        if (tally.Slots[_slot]++ == 0 || _backwards)
            tally.FirstRows[_slot] = row;
        if (bad)
        {
            if (tally.BadSlots.Length == 0)
                tally.BadSlots = new int[Slots];
            tally.BadSlots[_slot]++;
        }
    }

    private Tally TallyOf(int receiver)
    {
        while (_tallies.Count <= receiver)
            _tallies.Add(new Tally(knowsEdge: !_backwards));
        return _tallies[receiver];
    }

    /// <summary>What one receiver gave.</summary>
    /// <param name="knowsEdge">False where frames are taken backwards: the packet behind the first one taken is not known.</param>
    private sealed class Tally(bool knowsEdge)
    {
        // The packet taken last on an advertising channel.
        private ulong _advertiser;
        private int _channel;
        private long _timeNs;
        private bool _knowsEdge = knowsEdge;
        private long _together;

        public int[] Slots = [], FirstRows = [], BadSlots = [];
        public long Frames, BadCrc;
        public long[] Channels { get; } = new long[3];

        /// <summary>Counts the packets that are of one advertising event with their neighbour, the one taken before.</summary>
        public void Follow(ulong advertiser, int channel, long timeNs, bool backwards)
        {
            int step = backwards ? _channel - channel : channel - _channel;
            long gapNs = backwards ? _timeNs - timeNs : timeNs - _timeNs;
            // Without branches: neither way is usual.
            _together += _knowsEdge & advertiser == _advertiser & step > 0 & unchecked((ulong)gapNs) < LongestPacketGapNs ? 1 : 0;
            _advertiser = advertiser;
            _channel = channel;
            _timeNs = timeNs;
            _knowsEdge = true;
        }

        /// <summary>Adds what was gone over backwards, down to the frame behind the last one taken here.</summary>
        public void Join(Tally later)
        {
            Frames += later.Frames;
            BadCrc += later.BadCrc;
            _together += later._together;
            if (later._knowsEdge)
                Follow(later._advertiser, later._channel, later._timeNs, backwards: false);
            for (int channel = 0; channel < Channels.Length; channel++)
                Channels[channel] += later.Channels[channel];
            if (Slots.Length == 0)
                (Slots, FirstRows) = (later.Slots, later.FirstRows);
            else
            {
                for (int slot = 0; slot < later.Slots.Length; slot++)
                {
                    Slots[slot] += later.Slots[slot];
                    if (FirstRows[slot] < 0)
                        FirstRows[slot] = later.FirstRows[slot];
                }
            }
            if (BadSlots.Length == 0)
                BadSlots = later.BadSlots;
            else
            {
                for (int slot = 0; slot < later.BadSlots.Length; slot++)
                    BadSlots[slot] += later.BadSlots[slot];
            }
        }

        public ReceiverView ToView(int receiver)
        {
            long told = Channels[0] + Channels[1] + Channels[2], most = Channels.Max();
            ChannelPlan plan = told < EnoughFrames ? ChannelPlan.Unknown
                : most >= NearlyAll * told ? ChannelPlan.OneChannel
                : _together >= OftenTogether * told ? ChannelPlan.AllAtOnce
                : ChannelPlan.Hopping;
            int? channel = plan == ChannelPlan.OneChannel ? 37 + Array.IndexOf(Channels, most) : null;
            return new ReceiverView(receiver, plan, channel, Frames, Channels[0], Channels[1], Channels[2], BadCrc);
        }
    }
}
