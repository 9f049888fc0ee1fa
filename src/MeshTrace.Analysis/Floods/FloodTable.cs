using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Network;

namespace MeshTrace.Analysis.Floods;

/// <summary>
/// Brings the copies of one Network PDU together over TTLs, channels and receivers. A flood is known by credentials, IV index, SRC, SEQ, CTL, DST
/// and transport PDU; the same content heard more than <see cref="LongestSilenceNs"/> after its last copy is another flood.
/// </summary>
internal sealed class FloodTable(ChunkedTable<FloodRow> floods, ContentTable contents)
{
    public const long LongestSilenceNs = 10_000_000_000;

    private const Bearers TellsTtl = Bearers.Advertising | Bearers.GattFromClient;

    private int[] _slots = NewSlots(1 << 10);
    private int _used;

    /// <summary>The flood of a content that was just opened: one that has it at another TTL, or a new one.</summary>
    /// <param name="row">Row of the content.</param>
    /// <param name="pdu">The opened PDU.</param>
    /// <param name="timeNs">Time of the copy, or <see cref="CapturedFrame.NoTime"/>.</param>
    /// <param name="twin">Row of an earlier flood with the same PDU (other credentials, or long before), or -1.</param>
    /// <returns>The row, and whether it is new.</returns>
    public (int Row, bool IsNew) Place(int row, in OpenedPdu pdu, long timeNs, out int twin)
    {
        ClearNetworkPdu.TryRead(pdu.ClearPdu, out ClearNetworkPdu clear, out _);    // good: checked when it was opened
        contents[row].Ttl = clear.Ttl;
        var key = new FloodKey((Credentials)pdu.Credentials, pdu.IvIndex, clear.Src, clear.Seq, clear.Ctl, clear.Dst);
        return Place(row, key, pdu.Subnet, clear.Ttl, clear.TransportPdu, timeNs, out twin);
    }

    /// <summary>Counts a further copy; if the flood ended too long ago, a new flood with a new content row.</summary>
    /// <returns>Row of the content and of the flood, and whether the flood is new.</returns>
    public (int Content, int Row, bool IsNew) Repeat(int content, long timeNs, out int twin)
    {
        twin = -1;
        int row = contents[content].Owner;
        ref FloodRow flood = ref floods[row];
        if (IsNear(in flood, timeNs))
        {
            Count(ref flood, Bearers.None, timeNs);
            return (content, row, false);
        }
        int renewed = contents.Renew(content);
        Span<byte> octets = stackalloc byte[16];
        flood.TransportPdu.CopyTo(octets);
        var key = new FloodKey(flood.Credentials, flood.IvIndex, flood.Src, flood.Seq, flood.Ctl, flood.Dst);
        (int placed, bool isNew) = Place(renewed, key, flood.Subnet, contents[renewed].Ttl, octets[..flood.OctetCount], timeNs, out twin);
        return (renewed, placed, isNew);
    }

    public void Clear()
    {
        floods.Clear();
        _slots = NewSlots(1 << 10);
        _used = 0;
    }

    private (int Row, bool IsNew) Place(int content, FloodKey key, int subnet, byte ttl, ReadOnlySpan<byte> transportPdu, long timeNs, out int twin)
    {
        twin = -1;
        ref int slot = ref _slots[FindSlot(key, transportPdu)];
        int head = slot;
        for (int at = head; at >= 0; at = floods[at].NextSameKey)
        {
            ref FloodRow candidate = ref floods[at];
            if (candidate.Credentials == key.Credentials && IsNear(in candidate, timeNs))
            {
                var bearer = (Bearers)(1 << (int)contents[content].Kind.Bearer());
                Join(at, content, ttl, bearer);
                Count(ref candidate, bearer, timeNs);
                return (at, false);
            }
            twin = at;      // the last of the chain is the oldest one: the one that has the message
        }
        var flood = new FloodRow
        {
            Subnet = subnet, IvIndex = key.IvIndex, Seq = key.Seq, Src = key.Src, Dst = key.Dst, Ctl = key.Ctl, Credentials = key.Credentials,
            FirstTimeNs = timeNs, LastTimeNs = timeNs, Copies = 1, TtlHigh = ttl, TtlLow = ttl, FirstContent = content, NextSameKey = head,
            MessageField = -1, TransferField = -1, OctetCount = (byte)transportPdu.Length, BearersField = (Bearers)(1 << (int)contents[content].Kind.Bearer()),
        };
        transportPdu.CopyTo(flood.Octets);
        int row = floods.Add(in flood);
        contents[content].Owner = row;
        slot = row;
        if (head < 0 && ++_used > _slots.Length / 2)
            Grow();
        return (row, true);
    }

    /// <summary>
    /// What a proxy server passed on to its client, or a text log tells, has a TTL that no hop on the air gave it: it counts only while nothing else is known.
    /// </summary>
    private void Join(int row, int content, byte ttl, Bearers bearer)
    {
        ref FloodRow flood = ref floods[row];
        contents[content].Owner = row;
        contents[content].Next = flood.FirstContent;
        flood.FirstContent = content;
        bool counts = (bearer & TellsTtl) != 0, counted = (flood.BearersField & TellsTtl) != 0;
        if (counts && !counted)
            flood.TtlHigh = flood.TtlLow = ttl;
        if (counts || !counted)
        {
            flood.TtlHigh = Math.Max(flood.TtlHigh, ttl);
            flood.TtlLow = Math.Min(flood.TtlLow, ttl);
        }
    }

    private static bool IsNear(in FloodRow flood, long timeNs) =>
        timeNs == CapturedFrame.NoTime || flood.LastTimeNs == CapturedFrame.NoTime
        || (timeNs <= flood.LastTimeNs + LongestSilenceNs && timeNs >= flood.FirstTimeNs - LongestSilenceNs);

    private static void Count(ref FloodRow flood, Bearers bearer, long timeNs)
    {
        flood.Copies++;
        flood.BearersField |= bearer;
        if (timeNs == CapturedFrame.NoTime)
            return;
        if (flood.LastTimeNs == CapturedFrame.NoTime)
            flood.FirstTimeNs = flood.LastTimeNs = timeNs;
        flood.FirstTimeNs = Math.Min(flood.FirstTimeNs, timeNs);
        flood.LastTimeNs = Math.Max(flood.LastTimeNs, timeNs);
    }

    private int FindSlot(FloodKey key, ReadOnlySpan<byte> transportPdu)
    {
        int mask = _slots.Length - 1;
        for (int slot = (int)(key.Hash() & (uint)mask); ; slot = (slot + 1) & mask)
        {
            int row = _slots[slot];
            if (row < 0 || key.SamePdu(in floods[row], transportPdu))
                return slot;
        }
    }

    private void Grow()
    {
        int[] old = _slots;
        _slots = NewSlots(old.Length * 2);
        int mask = _slots.Length - 1;
        foreach (int row in old)
        {
            if (row < 0)
                continue;
            ref FloodRow flood = ref floods[row];
            int slot = (int)(new FloodKey(flood.Credentials, flood.IvIndex, flood.Src, flood.Seq, flood.Ctl, flood.Dst).Hash() & (uint)mask);
            while (_slots[slot] >= 0)
                slot = (slot + 1) & mask;
            _slots[slot] = row;
        }
    }

    private static int[] NewSlots(int count)
    {
        int[] slots = new int[count];
        Array.Fill(slots, -1);
        return slots;
    }
}

/// <summary>What a flood is known by, less its transport PDU.</summary>
internal readonly record struct FloodKey(Credentials Credentials, uint IvIndex, MeshAddress Src, uint Seq, bool Ctl, MeshAddress Dst)
{
    /// <summary>Credentials are left out: the same PDU under other credentials lands in the same chain and is seen there as its twin.</summary>
    public ulong Hash()
    {
        ulong high = Math.BigMul(((ulong)IvIndex << 32) | ((ulong)Src.Value << 16) | Dst.Value, 0x9E3779B97F4A7C15, out ulong low);
        ulong mixed = high ^ low ^ ((ulong)Seq << 1) ^ (Ctl ? 1u : 0u);
        high = Math.BigMul(mixed, 0xD6E8FEB86659FD93, out low);
        return high ^ low;
    }

    public bool SamePdu(in FloodRow flood, ReadOnlySpan<byte> transportPdu) =>
        flood.Seq == Seq && flood.Src == Src && flood.Dst == Dst && flood.IvIndex == IvIndex && flood.Ctl == Ctl && flood.TransportPdu.SequenceEqual(transportPdu);
}
