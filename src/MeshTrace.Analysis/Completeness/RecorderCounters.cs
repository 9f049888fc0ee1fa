using System.Buffers.Binary;
using MeshTrace.Analysis.Contents;
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

    /// <summary>The counter in a frame of that link type; false where the frame is too short to hold it.</summary>
    public static bool TryRead(in CapturedFrame frame, out PreparedCounter counter)
    {
        counter = default;
        if (frame.Octets.Length < CounterAt + CounterOctets)
            return false;
        counter = new PreparedCounter(frame.Receiver, BinaryPrimitives.ReadUInt16LittleEndian(frame.Octets[CounterAt..]), frame.TimeNs);
        return true;
    }

    /// <summary>Takes the counters in the order of their frames.</summary>
    public void Take(in PreparedCounter told)
    {
        while (_last.Count <= told.Receiver)
            _last.Add(default);
        (bool known, ushort before, long beforeNs) = _last[told.Receiver];
        _last[told.Receiver] = (true, told.Counter, told.TimeNs);
        int step = (told.Counter - before) & 0xFFFF;
        if (known && step is > 1 and < LargestStep && losses.Count < MostLosses && told.TimeNs >= beforeNs && beforeNs != CapturedFrame.NoTime)
            losses.Add(new DeafSpan(told.Receiver, beforeNs, told.TimeNs, DeafReason.RecorderLost, step - 1));
    }
}
