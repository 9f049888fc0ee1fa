using System.Buffers.Binary;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Completeness;

/// <summary>
/// Follows the packet counters that some receivers write into their frames (link type 272: a counter of 16 bits at octet 4): a number left out is a
/// packet that was received and did not get into the file.
/// </summary>
internal sealed class RecorderCounters(List<DeafSpan> losses)
{
    private const int CounterAt = 4, CounterOctets = 2;

    /// <summary>A larger step is a counter that began anew (threshold ours).</summary>
    private const int LargestStep = 1 << 15;

    /// <summary>Bounds what a hostile file can make us keep.</summary>
    private const int MostLosses = 100_000;

    private readonly List<(bool Known, ushort Counter, long TimeNs)> _last = [];

    public void Take(in CapturedFrame frame)
    {
        if (frame.Octets.Length < CounterAt + CounterOctets)
            return;
        while (_last.Count <= frame.Receiver)
            _last.Add(default);
        ushort counter = BinaryPrimitives.ReadUInt16LittleEndian(frame.Octets[CounterAt..]);
        (bool known, ushort before, long beforeNs) = _last[frame.Receiver];
        _last[frame.Receiver] = (true, counter, frame.TimeNs);
        int step = (counter - before) & 0xFFFF;
        if (known && step is > 1 and < LargestStep && losses.Count < MostLosses && frame.TimeNs >= beforeNs && beforeNs != CapturedFrame.NoTime)
            losses.Add(new DeafSpan(frame.Receiver, beforeNs, frame.TimeNs, DeafReason.RecorderLost, step - 1));
    }
}
