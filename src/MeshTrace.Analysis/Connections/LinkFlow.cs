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
    /// <summary>No pause between two packets of one connection event is longer, not even with the longest packets.</summary>
    private const long LongestPauseNs = 3_750_000;

    /// <summary>T_IFS (§4.1.1), and how far time stamps may be off it; octets around the payload, and the time of one on LE 1M, the longest but LE Coded's.</summary>
    private const long InterFrameNs = 150_000, ToleranceNs = 60_000, NsPerOctet = 8_000;
    private const int OctetsAround = 10;

    /// <summary>Where nobody told the interval, the shortest of so many is taken for it.</summary>
    private const int EnoughEvents = 8;

    private readonly Side[] _sides = [new(), new()];
    private long _lastNs = CapturedFrame.NoTime, _eventNs = CapturedFrame.NoTime, _shortestEventNs = long.MaxValue;
    private int _lastSide = -1, _lastOctets, _events;

    /// <summary>Of the connection, or 0 while not known.</summary>
    public long IntervalNs { get; set; }

    /// <summary>Packets of this connection were missed, or recorded with a wrong CRC.</summary>
    public bool IsLossy { get; set; }

    /// <param name="side">0 or 1: who sent it.</param>
    /// <param name="pdu">The PDU, with a right CRC.</param>
    /// <param name="timeNs">When, or no time.</param>
    public FlowStep Take(int side, in DataChannelPdu pdu, long timeNs)
    {
        bool missed = PaceTellsOfLoss(side, in pdu, timeNs);
        (_lastNs, _lastSide, _lastOctets) = (timeNs, side, pdu.Payload.Length);
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
        bool same = own.IsKnown && own.Sn == pdu.Sn, equal = same && own.Content == content;
        other.MayMiss |= missed;        // it may have been either's
        // With the same SN and octets a PDU is the same one again, whatever was missed meanwhile: only where its successor is known to have been acknowledged
        // is it another. An empty PDU is like every other, so a loss in doubt counts there.
        if (equal && !own.Missed && (!pdu.Payload.IsEmpty || !(own.MayMiss || missed)))
        {
            own.MayMiss = false;
            return FlowStep.Repeated;
        }
        bool gap = own.IsKnown && (same || own.Missed || own.MayMiss || missed);
        IsLossy |= gap;
        (own.IsKnown, own.Sn, own.Content, own.MoreData, own.Acknowledged, own.Missed, own.MayMiss) = (true, pdu.Sn, content, pdu.MoreData, false, false, false);
        return gap ? FlowStep.AfterGap : FlowStep.Next;
    }

    /// <summary>
    /// Each connection event has a packet of the central at least; within an event the sides take turns, T_IFS apart, until both have no more data
    /// (§4.5.1, §4.5.6).
    /// </summary>
    private bool PaceTellsOfLoss(int side, in DataChannelPdu pdu, long timeNs)
    {
        if (timeNs == CapturedFrame.NoTime || _lastNs == CapturedFrame.NoTime)
            return false;
        long pause = timeNs - _lastNs;
        if (pause < 0)
            return true;
        if (pause <= LongestPauseNs)
            return side == _lastSide || pause > ((OctetsAround + Math.Max(_lastOctets, pdu.Payload.Length)) * NsPerOctet) + InterFrameNs + ToleranceNs;

        // Another event. The one before was surely complete if the peripheral had the last word, and neither side had more to say; a central may close it
        // earlier, so where no packet was missed so far that says nothing.
        bool complete = !IsLossy || (_lastSide == 1 && !_sides[0].MoreData && !_sides[1].MoreData);
        long sinceEvent = _eventNs == CapturedFrame.NoTime ? pause : timeNs - _eventNs;
        (_eventNs, _events) = (timeNs, _events + 1);
        _shortestEventNs = Math.Min(_shortestEventNs, sinceEvent);
        long interval = IntervalNs > 0 ? IntervalNs : _events >= EnoughEvents ? _shortestEventNs : 0;
        return !complete || interval == 0 || pause > interval * 3 / 2;
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
        public bool IsKnown, Sn, MoreData, Acknowledged;

        /// <summary>A PDU of this side after the last heard is known to be missed, by an acknowledgment; or may be, by the pace.</summary>
        public bool Missed, MayMiss;
        public uint Content;
    }
}
