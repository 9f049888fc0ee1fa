using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Floods;

/// <summary>
/// Goes over all floods once the owners of addresses are decided: names the sender of each copy, says whether the original was heard, and hands the
/// emissions of each flood on to those who count them. Runs for every copy: its tables are reused and nothing is allocated.
/// </summary>
internal sealed class CopyAttribution(CaptureHistory history, Senders senders, HopCensus hops, Repeats.RepeatCensus repeats, Nodes.NodeCensus nodes)
{
    /// <summary>Packets of one advertising event start at most 10 ms apart, in practice under 2 ms (Core vol 6 part B §4.4.2.6); repetitions 10 ms or more.</summary>
    private const long LongestEventNs = 6_000_000;

    /// <summary>Nodes that must share the usual TTL before it is trusted by itself (threshold ours).</summary>
    private const int EnoughNodes = 3;

    private readonly FloodStreams _streams = senders.Streams;
    private readonly AddressOwners _owners = senders.Owners;
    private readonly long _packetGapNs = senders.Evidence.PacketGapNs;

    // By address row: the flood it was heard in last, and its newest emission there.
    private readonly int[] _lastFlood = Filled(senders.Evidence.Advertisers.Count);
    private readonly int[] _lastEmission = new int[senders.Evidence.Advertisers.Count];
    private Emission[] _emissions = new Emission[64];
    private int[] _emissionOf = new int[256];
    private int _count;

    public void Run()
    {
        for (int flood = 0; flood < history.Floods.Count; flood++)
        {
            Span<FloodCopy> copies = history.Copies.ToFill(flood);
            Gather(flood, copies);
            ref FloodRow row = ref history.Floods[flood];
            Name(ref row, flood);
            for (int i = 0; i < copies.Length; i++)
                if (_emissionOf[i] is var at and >= 0 && _emissions[at].Confidence != SenderConfidence.Unknown)
                    copies[i] = copies[i] with { SenderConfidence = _emissions[at].Confidence, SenderField = _streams.NodeAt(_emissions[at].Node).Value };
            int stream = _streams.Of(flood);
            if (row.Credentials != Credentials.Friendship)      // nobody relays these
                hops.Take(in row, _streams[stream].Node, _emissions.AsSpan(0, _count));
            repeats.Take(in row, _streams[stream].Node, _emissions.AsSpan(0, _count));
            nodes.Take(flood, _streams.NodeAt(_streams[stream].Node));
        }
    }

    private void Gather(int flood, ReadOnlySpan<FloodCopy> copies)
    {
        ReadOnlySpan<HeardCopy> heard = history.Copies.HeardOf(flood);
        _count = 0;
        if (_emissionOf.Length < copies.Length)
            _emissionOf = new int[copies.Length * 2];
        for (int i = 0; i < copies.Length; i++)
        {
            ref readonly HeardCopy copy = ref heard[i];
            int advertiser = copy.AdvertiserRow;
            _emissionOf[i] = -1;
            if (advertiser < 0)
                continue;
            int at = EmissionOf(flood, advertiser, copies[i].Ttl, copy.Receiver);
            _emissionOf[i] = at;
            if (copy.TimeNs != CapturedFrame.NoTime)
                AddEvent(ref _emissions[at], copy.TimeNs - (copy.Channel is > 37 and <= 39 ? (copy.Channel - 37) * _packetGapNs : 0));
        }
    }

    private int EmissionOf(int flood, int advertiser, byte ttl, int receiver)
    {
        int newest = _lastFlood[advertiser] == flood ? _lastEmission[advertiser] : -1;
        for (int at = newest; at >= 0; at = _emissions[at].Previous)
            if (_emissions[at].Ttl == ttl && _emissions[at].Receiver == receiver)
                return at;
        if (_count == _emissions.Length)
            Array.Resize(ref _emissions, _count * 2);
        ref Emission fresh = ref _emissions[_count];
        fresh = default;
        (fresh.Advertiser, fresh.Receiver, fresh.Ttl, fresh.FirstNs, fresh.Previous) = (advertiser, receiver, ttl, long.MaxValue, newest);
        _lastFlood[advertiser] = flood;
        _lastEmission[advertiser] = _count;
        return _count++;
    }

    private static void AddEvent(ref Emission emission, long beginNs)
    {
        if (emission.Events == 0)
            emission.FirstNs = beginNs;
        long after = beginNs - emission.FirstNs;
        int timed = Math.Min(emission.Events, EventTimes.Most);
        if (timed > 0 && (after - (emission.Begins[timed - 1] * 1000L) < LongestEventNs || emission.Events > EventTimes.Most))
            return;
        if (timed < EventTimes.Most)
            emission.Begins[timed] = (int)Math.Min(after / 1000, int.MaxValue);
        emission.Events++;
    }

    /// <summary>Names the sender of each emission, then says whether the original is among them.</summary>
    private void Name(ref FloodRow row, int flood)
    {
        ref FloodStream stream = ref _streams[_streams.Of(flood)];
        int addressesAtTop = CountAtTop(row.TtlHigh, stream.Node, out bool anotherNode);
        bool trusted = IsOriginalTtl(in stream, row.TtlHigh), original = false;
        byte? friendship = row.Credentials == Credentials.Friendship ? OriginOfFriendship(in row) : null;
        for (int at = 0; at < _count; at++)
        {
            ref Emission emission = ref _emissions[at];
            SenderConfidence confidence = _owners.Confidence[emission.Advertiser];
            bool owned = confidence != SenderConfidence.Unknown, own = owned && _owners.Owner[emission.Advertiser] == stream.Node;
            bool top = emission.Ttl == row.TtlHigh && emission.Ttl != FloodStreams.AlwaysRelayed;
            if (owned && (confidence == SenderConfidence.Likely || !top) && (top || !own))
                (emission.Node, emission.Confidence) = (_owners.Owner[emission.Advertiser], confidence);
            else if (top && !anotherNode && (friendship is null or FloodRow.OriginHeard))
                (emission.Node, emission.Confidence) = (stream.Node, Judge(in stream, emission, trusted, addressesAtTop));
            original |= top && emission.Confidence == SenderConfidence.Likely && emission.Node == stream.Node;
        }
        row.OriginField = friendship is { } told ? told
            : original || row.HeardBy.HasFlag(Bearers.GattFromClient) ? FloodRow.OriginHeard
            : !row.HeardOnAir ? FloodRow.OriginUnknown       // a proxy server passed it on, after who knows how many hops
            : Origin(in stream, row.TtlHigh, addressesAtTop, anotherNode);
    }

    /// <summary>
    /// Under friendship credentials the two of a friendship speak with TTL 0, a Low Power node may publish, and a Friend gives what it kept of others with a
    /// lower TTL than theirs (Mesh Protocol 1.1 §3.5.5): the same PDU under flooding credentials tells the last two apart.
    /// </summary>
    private byte OriginOfFriendship(in FloodRow row)
    {
        if (row.TtlHigh == 0)
            return FloodRow.OriginHeard;
        if (row.Message is not { } message)
            return FloodRow.OriginUnknown;
        foreach (int at in history.FloodSpanOf(message))
        {
            ref FloodRow twin = ref history.Floods[at];
            if (twin.Credentials != Credentials.Flooding || twin.Seq != row.Seq)
                continue;
            if (twin.TtlHigh < row.TtlHigh)
                return FloodRow.OriginHeard;
            if (twin.OriginalTtl is { } sent && sent > row.TtlHigh)
                return (byte)(FloodRow.OriginTold | sent);
        }
        return FloodRow.OriginUnknown;
    }

    /// <summary>A copy at the highest TTL from an address that nobody is known to own.</summary>
    private SenderConfidence Judge(in FloodStream stream, Emission emission, bool trusted, int addressesAtTop)
    {
        if (addressesAtTop > 1 && !stream.Knows(emission.Ttl))
            return SenderConfidence.Unknown;
        if (trusted && !(_owners.Relays[emission.Advertiser] && senders.NeverRelays(stream.Node)))
            return SenderConfidence.Likely;
        return MayBeOriginal(in stream, emission.Ttl) ? SenderConfidence.Possible : SenderConfidence.Unknown;
    }

    /// <summary>Distinct addresses at the highest TTL, and whether one of them belongs to another node than SRC.</summary>
    private int CountAtTop(byte highest, int src, out bool anotherNode)
    {
        anotherNode = false;
        int addresses = 0;
        for (int at = 0; at < _count; at++)
        {
            int advertiser = _emissions[at].Advertiser;
            if (_emissions[at].Ttl != highest || IsRepeated(at))
                continue;
            addresses++;
            anotherNode |= _owners.Confidence[advertiser] == SenderConfidence.Likely && _owners.Owner[advertiser] != src;
        }
        return addresses;
    }

    /// <summary>True if an earlier emission has the address at this TTL: another receiver heard it too.</summary>
    private bool IsRepeated(int at)
    {
        for (int earlier = _emissions[at].Previous; earlier >= 0; earlier = _emissions[earlier].Previous)
            if (_emissions[earlier].Ttl == _emissions[at].Ttl)
                return true;
        return false;
    }

    /// <summary>By settings, or because nobody in this network was heard with more and most start with it.</summary>
    private bool IsOriginalTtl(in FloodStream stream, byte ttl) =>
        ttl == FloodStreams.NeverRelayed || stream.Knows(ttl)
        || (stream.KnownTtls == 0 && ttl == stream.HighestHeard && ttl > stream.HighestRelayed && ttl >= _owners.HighestTtl
            && _owners.UsualTtl.Ttl == ttl && _owners.UsualTtl.Nodes >= EnoughNodes);

    /// <summary>Nothing tells that the original had more: neither settings, nor other floods of the stream, nor what most nodes start with.</summary>
    private bool MayBeOriginal(in FloodStream stream, byte ttl)
    {
        if (ttl == FloodStreams.NeverRelayed || stream.Knows(ttl))
            return true;
        if (ttl <= stream.HighestRelayed || ttl == FloodStreams.AlwaysRelayed || ttl < stream.HighestHeard)
            return false;
        return stream.KnownTtls != 0 ? ttl > stream.HighestKnown : ttl >= _owners.UsualTtl.Ttl || _owners.UsualTtl.Nodes < EnoughNodes;
    }

    /// <summary>
    /// The original was not heard: its TTL is told by other floods of the stream, or by settings, if they proved right before or relays are known to have
    /// sent what was heard. Settings alone may be out of date.
    /// </summary>
    private byte Origin(in FloodStream stream, byte highest, int addressesAtTop, bool anotherNode)
    {
        bool relayed = anotherNode || (addressesAtTop > 1 && !stream.Knows(highest));
        if (!relayed && MayBeOriginal(in stream, highest))
            return FloodRow.OriginHeard;
        byte original = FloodStreams.NotHeard;
        if (stream.HeardOriginal != FloodStreams.NotHeard)
            original = stream.HeardOriginal;
        else if (UInt128.PopCount(stream.KnownTtls) == UInt128.One && (relayed || stream.HighestHeard >= stream.HighestKnown))
            original = stream.HighestKnown;
        return original != FloodStreams.NotHeard && original > highest ? (byte)(FloodRow.OriginTold | original) : FloodRow.OriginUnknown;
    }

    private static int[] Filled(int count)
    {
        int[] rows = new int[count];
        Array.Fill(rows, -1);
        return rows;
    }
}
