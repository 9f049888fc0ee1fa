using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Connections;

/// <summary>What a data channel PDU is to those who read along.</summary>
internal enum FlowStep : byte
{
    /// <summary>Follows the one before, as far as can be told.</summary>
    Next,

    /// <summary>Sent again: heard already.</summary>
    Repeated,

    /// <summary>Something was or may have been missed before it.</summary>
    AfterGap,
}

/// <summary>
/// Follows the sequence numbers of a connection as a passive listener (Core Specification, volume 6 part B §4.5.9). SN has one bit, so a loss shows in
/// it only for odd numbers of PDUs: the other side's acknowledgments and the pace of connection events tell the rest.
/// </summary>
internal sealed class LinkFlow
{
    /// <summary>Two packets of one connection event start nearer to each other than this, where the interval is not known.</summary>
    private const long UsualEventNs = 3_750_000;

    private readonly Side[] _sides = [new(), new()];
    private long _lastNs = CapturedFrame.NoTime;
    private int _lastSide = -1;

    /// <summary>Of the connection, or 0 while not known.</summary>
    public long IntervalNs { get; set; }

    /// <param name="side">0 or 1: who sent it.</param>
    /// <param name="pdu">The PDU, with a right CRC.</param>
    /// <param name="timeNs">When, or no time.</param>
    public FlowStep Take(int side, in DataChannelPdu pdu, long timeNs)
    {
        bool missed = PaceTellsOfLoss(side, timeNs);
        (_lastNs, _lastSide) = (timeNs, side);
        Side own = _sides[side], other = _sides[1 - side];

        // NESN speaks of what the other side sent: once it has acknowledged the last PDU heard of it, a further change tells of one that was not heard.
        if (other.IsKnown)
        {
            bool acknowledgesLast = pdu.Nesn != other.Sn;
            if (other.Acknowledged && !acknowledgesLast)
                other.Missed = true;
            other.Acknowledged |= acknowledgesLast;
        }

        uint content = ContentOf(in pdu);
        bool same = own.IsKnown && own.Sn == pdu.Sn;
        if (same && own.Content == content && !own.Missed && !missed)
            return FlowStep.Repeated;
        bool gap = own.IsKnown && (same || own.Missed || missed);
        if (missed)
            other.Missed = true;        // it may have been either's
        (own.IsKnown, own.Sn, own.Content, own.Acknowledged, own.Missed) = (true, pdu.Sn, content, false, false);
        return gap ? FlowStep.AfterGap : FlowStep.Next;
    }

    /// <summary>Each connection event has a packet of the central at least, and within an event the sides take turns (§4.5.1, §4.5.6).</summary>
    private bool PaceTellsOfLoss(int side, long timeNs)
    {
        if (timeNs == CapturedFrame.NoTime || _lastNs == CapturedFrame.NoTime || _lastSide < 0)
            return false;
        long pause = timeNs - _lastNs;
        if (pause < 0 || (IntervalNs > 0 && pause > IntervalNs * 3 / 2))
            return true;
        return side == _lastSide && pause < (IntervalNs > 0 ? IntervalNs / 2 : UsualEventNs);
    }

    /// <summary>LLID and payload as a number (FNV-1a): with SN the same, an equal one is the same PDU.</summary>
    private static uint ContentOf(in DataChannelPdu pdu)
    {
        uint hash = unchecked((2166136261 ^ (uint)pdu.Llid) * 16777619);
        foreach (byte octet in pdu.Payload)
            hash = unchecked((hash ^ octet) * 16777619);
        return hash;
    }

    private sealed class Side
    {
        public bool IsKnown, Sn, Acknowledged, Missed;
        public uint Content;
    }
}
