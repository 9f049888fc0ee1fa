using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Nodes;

/// <summary>
/// Counts what was heard of every node, fed flood by flood once its copies have their senders; nodes that the description names and nobody heard are listed too.
/// </summary>
internal sealed class NodeCensus(CaptureHistory history, NodeDirectory directory)
{
    /// <summary>Copies of one advertising event on three channels start at most 10 ms apart, in practice under 2 ms (Core vol 6 part B §4.4.2.6; common practice, no source).</summary>
    private const long LongestEventNs = 6_000_000;

    /// <summary>A number of events heard so often of one PDU is what the node sends, not a chance (threshold ours).</summary>
    private const double OftenEnough = 0.1;

    private readonly Dictionary<ushort, Tally> _tallies = [];

    private readonly bool[] _hostLogs = [.. history.Receivers.Select(receiver => receiver.LinkType.IsHostLog)];

    /// <summary>Relays of the flood at hand: few, so a list is searched faster than a set.</summary>
    private readonly List<MeshAddress> _relays = [];

    /// <summary>All nodes, lowest address first.</summary>
    /// <param name="senders">Which advertiser addresses each uses.</param>
    /// <param name="shares">How much of its traffic was heard.</param>
    public List<NodeRecord> ToRecords(Senders senders, HeardShares shares)
    {
        foreach (DescribedNode node in directory.Description?.Nodes ?? [])
            TallyOf(node.Unicast).Described = true;
        return [.. _tallies.OrderBy(entry => entry.Key).Select(entry => ToRecord(new MeshAddress(entry.Key), entry.Value, senders, shares))];
    }

    /// <param name="flood">Row of the flood.</param>
    /// <param name="node">The node that sent it.</param>
    public void Take(int flood, MeshAddress node)
    {
        ref FloodRow row = ref history.Floods[flood];
        if (!row.Src.IsUnicast)
            return;
        Tally own = TallyOf(node);
        own.FloodsSent++;
        if (row.FirstTimeNs != CapturedFrame.NoTime)
        {
            own.First = Math.Min(own.First, row.FirstTimeNs);
            own.Last = Math.Max(own.Last, row.LastTimeNs);
        }
        own.OnAir += row.HeardOnAir ? 1 : 0;
        int events = 0;
        long eventStart = long.MinValue;
        _relays.Clear();
        ReadOnlySpan<FloodCopy> copies = history.CopiesOf(flood);
        ReadOnlySpan<HeardCopy> heard = history.Copies.HeardOf(flood);
        for (int at = 0; at < copies.Length && at < heard.Length; at++)
        {
            FloodCopy copy = copies[at];
            if (copy.Bearer != Bearer.Advertising)
                continue;
            own.Copies++;
            ref readonly HeardCopy frame = ref heard[at];
            var sender = new MeshAddress(copy.SenderField);
            bool byAnother = copy.SenderConfidence == SenderConfidence.Likely && sender != node;
            if (byAnother && copy.Ttl < row.HighestTtl && !_relays.Contains(sender))
            {
                _relays.Add(sender);
                TallyOf(sender).FloodsRelayed++;
            }
            if (copy.Ttl != row.HighestTtl || byAnother)
                continue;
            if (_hostLogs[frame.Receiver])
                own.EventsUnknown = true;       // the controller may have dropped repetitions
            if (frame.Rssi != FrameRow.NoRssi)
                own.Rssi[frame.Rssi - sbyte.MinValue]++;
            if (frame.TimeNs != CapturedFrame.NoTime && (events == 0 || frame.TimeNs - eventStart > LongestEventNs))
            {
                events++;
                eventStart = frame.TimeNs;
            }
        }
        if (row.HeardOnAir)
            own.Add(events);
    }

    private NodeRecord ToRecord(MeshAddress unicast, Tally tally, Senders senders, HeardShares shares)
    {
        var record = new NodeRecord
        {
            Unicast = unicast, Elements = directory.ElementsOf(unicast), Name = directory.NameOf(unicast), Described = tally.Described,
            FloodsSent = tally.FloodsSent, FloodsRelayed = tally.FloodsRelayed,
        };
        record.Advertisers.AddRange(senders.AdvertisersOf(unicast));
        if (tally.FloodsSent == 0)
            return record;
        if (tally.First != long.MaxValue)
            (record.FirstTimeNs, record.LastTimeNs) = (tally.First, tally.Last);
        record.CopiesPerPdu = tally.OnAir == 0 ? null : tally.Copies / (double)tally.OnAir;
        record.RssiMedian = Median(tally.Rssi);
        if (shares.CountOf(unicast) is { } count)
        {
            (record.SeqFirst, record.SeqLast, record.SeqGaps) = (count.First, count.Last, count.Gaps);
            record.HeardShare = tally.EventsUnknown ? null : EventShare(unicast, tally, count);
        }
        return record;
    }

    /// <summary>
    /// Advertising events heard of those sent: SEQ numbers used, times the transmissions of each, as configured, else the highest number of events
    /// heard more than now and then.
    /// </summary>
    private double? EventShare(MeshAddress unicast, Tally tally, SequenceCount count)
    {
        int transmissions = directory.Description?.NodeAt(unicast)?.NetworkTransmit?.Count ?? tally.UsualEvents();
        if (transmissions == 0 || count.Floods < 3)
            return null;
        double heard = tally.EventsUpTo(transmissions);
        return Math.Min(1, heard / (transmissions * (double)(count.Floods + count.Gaps)));
    }

    private static int? Median(int[] counts)
    {
        int half = (counts.Sum() + 1) / 2, seen = 0;
        for (int at = 0; half > 0 && at < counts.Length; at++)
            if ((seen += counts[at]) >= half)
                return at + sbyte.MinValue;
        return null;
    }

    private Tally TallyOf(MeshAddress node)
    {
        if (!_tallies.TryGetValue(node.Value, out Tally? tally))
            _tallies.Add(node.Value, tally = new Tally());
        return tally;
    }

    private sealed class Tally
    {
        public bool Described, EventsUnknown;
        public int FloodsSent, FloodsRelayed, OnAir;
        public long Copies, First = long.MaxValue, Last = long.MinValue;

        /// <summary>How often each value of dBm was read, from -128 on.</summary>
        public int[] Rssi { get; } = new int[256];

        /// <summary>How many floods were heard with so many events: mostly few.</summary>
        private int[] _floodsWith = new int[16];

        public void Add(int events)
        {
            if (events >= _floodsWith.Length)
                Array.Resize(ref _floodsWith, Math.Max(events + 1, _floodsWith.Length * 2));
            _floodsWith[events]++;
        }

        /// <summary>The number of events with which, or with more, floods were heard more than now and then; 0 without floods.</summary>
        public int UsualEvents()
        {
            int rank = (int)(_floodsWith.Sum() * OftenEnough), more = 0;
            for (int events = _floodsWith.Length - 1; events > 0; events--)
                if ((more += _floodsWith[events]) > rank)
                    return events;
            return 0;
        }

        /// <summary>Events of all floods, of each so many at most.</summary>
        public long EventsUpTo(int most)
        {
            long sum = 0;
            for (int events = 0; events < _floodsWith.Length; events++)
                sum += (long)_floodsWith[events] * Math.Min(events, most);
            return sum;
        }
    }
}
