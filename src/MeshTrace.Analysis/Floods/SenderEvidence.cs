using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Floods;

/// <summary>In which role an advertiser address was heard in the floods of one stream, counted in floods.</summary>
internal struct Role
{
    public int Advertiser;
    public int Stream;

    /// <summary>The next role of the same address, or -1.</summary>
    public int Next;

    /// <summary>Alone at the highest TTL heard, which is one that the settings name, or 0.</summary>
    public int Known;

    /// <summary>Alone at the highest TTL that was heard of the stream at all; settings do not tell.</summary>
    public int Guess;

    /// <summary>Alone at the highest TTL of a flood, but the stream's TTL is higher.</summary>
    public int Below;

    /// <summary>At the highest TTL together with other addresses: only one node can be the originator, and the others would not have its TTL.</summary>
    public int Shared;

    /// <summary>At a lower TTL than another address, or at TTL 1: a relay's copy.</summary>
    public int Low;

    /// <summary>Highest TTL with which it stands in <see cref="Known"/> or <see cref="Guess"/>.</summary>
    public byte HighestTtl;
}

/// <summary>
/// Goes once over all copies and counts, for each advertiser address and stream, in which role the address was heard. Runs for every copy, so it
/// looks an address up once, notes its number with the copy, and allocates nothing.
/// </summary>
internal sealed class SenderEvidence
{
    private readonly CaptureHistory _history;
    private readonly FloodStreams _streams;
    private Role[] _roles = new Role[256];
    private int _roleCount;

    /// <summary>Open table of role rows, + 1; 0 = free. Looked up for every address of every flood.</summary>
    private int[] _roleSlots = new int[1 << 10];

    private AddressTally[] _tallies = [];
    private int _tallyCount;

    // Of the flood at hand: its distinct addresses, each with its first TTL.
    private int[] _heard = new int[64];
    private byte[] _heardTtl = new byte[64];
    private int _heardCount;

    // Distance of the packets of an advertising event.
    private long _gapSum, _gapCount;

    public SenderEvidence(CaptureHistory history, FloodStreams streams)
    {
        _history = history;
        _streams = streams;
        for (int flood = 0; flood < history.Floods.Count; flood++)
            TakeFlood(flood);
    }

    public AdvertiserTable Advertisers { get; } = new();

    /// <summary>Every copy has its sender: nothing is asked any more but the numbers of <see cref="Advertisers"/>.</summary>
    public void Forget()
    {
        _roleSlots = _heard = [];
        _roles = [];
        _tallies = [];
    }

    /// <summary>From one packet of an advertising event to the next, as heard; a usual value where no two were heard.</summary>
    public long PacketGapNs => _gapCount == 0 ? UsualPacketGapNs : _gapSum / _gapCount;

    /// <summary>A packet of 376 µs at most and a pause (common practice, no source).</summary>
    private const long UsualPacketGapNs = 600_000, ShortestPacketGapNs = 200_000, LongestPacketGapNs = 4_000_000;

    public ref Role RoleAt(int role) => ref _roles[role];

    public int FirstRoleOf(int advertiser) => _tallies[advertiser].FirstRole;

    /// <summary>Floods that began between the first and the last one with this address, both counted.</summary>
    public int FloodsDuring(int advertiser) => _tallies[advertiser].LastFlood - _tallies[advertiser].FirstFlood + 1;

    /// <summary>Mean strength at the receiver that heard it first, or null.</summary>
    public double? RssiOf(int advertiser) =>
        _tallies[advertiser].RssiCount == 0 ? null : _tallies[advertiser].RssiSum / (double)_tallies[advertiser].RssiCount;

    public int RssiReceiverOf(int advertiser) => _tallies[advertiser].RssiReceiver;

    private void TakeFlood(int flood)
    {
        ref FloodRow row = ref _history.Floods[flood];
        _heardCount = 0;
        int atTop = 0, before = -1, channelBefore = 0, receiverBefore = -1;
        long timeBefore = 0;
        ReadOnlySpan<FloodCopy> copies = _history.CopiesOf(flood);
        Span<HeardCopy> heard = _history.Copies.HeardOf(flood);
        for (int at = 0; at < copies.Length && at < heard.Length; at++)
        {
            ref HeardCopy copy = ref heard[at];
            int advertiser = copy.HasAdvertiser ? Intern(copy.Advertiser) : -1;
            copy.AdvertiserRow = advertiser;
            if (advertiser < 0)
                continue;
            int channel = copy.Channel;
            if (advertiser == before && copy.Receiver == receiverBefore && channel == channelBefore + 1 && copy.TimeNs != CapturedFrame.NoTime
                && copy.TimeNs - timeBefore is > ShortestPacketGapNs and < LongestPacketGapNs)
            {
                _gapSum += copy.TimeNs - timeBefore;
                _gapCount++;
            }
            (before, channelBefore, receiverBefore, timeBefore) = (advertiser, channel, copy.Receiver, copy.TimeNs);
            ref AddressTally tally = ref _tallies[advertiser];
            AddRssi(ref tally, in copy);
            if (tally.LastFlood == flood)
                continue;
            tally.LastFlood = flood;
            if (tally.FirstFlood < 0)
                tally.FirstFlood = flood;
            if (_heardCount == _heard.Length)
            {
                Array.Resize(ref _heard, _heardCount * 2);
                Array.Resize(ref _heardTtl, _heardCount * 2);
            }
            (_heard[_heardCount], _heardTtl[_heardCount++]) = (advertiser, copies[at].Ttl);
            if (copies[at].Ttl == row.TtlHigh)
                atTop++;
        }
        if (row.Credentials != Credentials.Flooding || !row.HeardOnAir)
            return;     // a Friend repeats under friendship credentials what others originated
        int stream = _streams.Of(flood);
        if (row.TtlHigh == _streams[stream].HighestHeard && atTop > 1)
            _streams[stream].SharedAtHighest++;
        else if (row.TtlHigh == _streams[stream].HighestHeard)
            _streams[stream].AloneAtHighest++;
        for (int i = 0; i < _heardCount; i++)
            Count(_heard[i], stream, _heardTtl[i], row.TtlHigh, atTop);
    }

    private void Count(int advertiser, int streamRow, byte ttl, byte highest, int atTop)
    {
        ref FloodStream stream = ref _streams[streamRow];
        ref Role role = ref RoleOf(advertiser, streamRow);
        if (ttl < highest || ttl == FloodStreams.AlwaysRelayed)
        {
            role.Low++;
            return;
        }
        if (atTop > 1)
        {
            role.Shared++;
            return;
        }
        if (ttl == FloodStreams.NeverRelayed || stream.Knows(ttl))
            role.Known++;
        else if (stream.KnownTtls == 0 ? ttl == stream.HighestHeard : ttl > stream.HighestKnown)
            role.Guess++;
        else
        {
            role.Below++;
            return;
        }
        role.HighestTtl = Math.Max(role.HighestTtl, ttl);
    }

    private ref Role RoleOf(int advertiser, int stream)
    {
        int slot = FindSlot(advertiser, stream);
        if (_roleSlots[slot] != 0)
            return ref _roles[_roleSlots[slot] - 1];
        if (_roleCount == _roles.Length)
            Array.Resize(ref _roles, _roleCount * 2);
        ref AddressTally tally = ref _tallies[advertiser];
        _roles[_roleCount] = new Role { Advertiser = advertiser, Stream = stream, Next = tally.FirstRole };
        tally.FirstRole = _roleCount++;
        _roleSlots[slot] = _roleCount;
        if (_roleCount > _roleSlots.Length / 2)
            GrowSlots();
        return ref _roles[_roleCount - 1];
    }

    private int FindSlot(int advertiser, int stream)
    {
        int mask = _roleSlots.Length - 1;
        ulong key = ((ulong)(uint)advertiser << 32) | (uint)stream;
        int slot = (int)(unchecked(key * 0x9E3779B97F4A7C15) >> 38) & mask;
        while (_roleSlots[slot] is var row and not 0 && (_roles[row - 1].Stream != stream || _roles[row - 1].Advertiser != advertiser))
            slot = (slot + 1) & mask;
        return slot;
    }

    private void GrowSlots()
    {
        _roleSlots = new int[_roleSlots.Length * 2];
        for (int row = 0; row < _roleCount; row++)
            _roleSlots[FindSlot(_roles[row].Advertiser, _roles[row].Stream)] = row + 1;
    }

    private static void AddRssi(ref AddressTally tally, in HeardCopy copy)
    {
        if (copy.Rssi == FrameRow.NoRssi)
            return;
        if (tally.RssiCount == 0)
            tally.RssiReceiver = copy.Receiver;
        else if (tally.RssiReceiver != copy.Receiver)
            return;
        tally.RssiSum += copy.Rssi;
        tally.RssiCount++;
    }

    private int Intern(ulong address)
    {
        int advertiser = Advertisers.Intern(address);
        if (advertiser < _tallyCount)
            return advertiser;
        if (advertiser == _tallies.Length)
            Array.Resize(ref _tallies, Math.Max(256, advertiser * 2));
        _tallies[advertiser] = new AddressTally { FirstRole = -1, FirstFlood = -1, LastFlood = -1 };
        _tallyCount++;
        return advertiser;
    }

    /// <summary>What is kept of an address beside its roles.</summary>
    private struct AddressTally
    {
        public int FirstRole, FirstFlood, LastFlood, RssiSum, RssiCount, RssiReceiver;
    }
}
