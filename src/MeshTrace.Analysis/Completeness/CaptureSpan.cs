using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Completeness;

/// <summary>The time that the capture spans, followed while frames come: their rows are at hand then, and no time changes later.</summary>
internal sealed class CaptureSpan(ChunkedTable<FrameRow> frames)
{
    private long _first = long.MaxValue, _last = long.MinValue;
    private int _taken;

    /// <summary>First and last time of the frames taken, or null where none of them has a time.</summary>
    public (long First, long Last)? Told => _first == long.MaxValue ? null : (_first, _last);

    /// <summary>Takes the frames that came since the last time.</summary>
    public void Take()
    {
        long first = _first, last = _last;
        while (_taken < frames.Count)
        {
            ReadOnlySpan<FrameRow> rows = frames.Chunk(_taken / ChunkedTable<FrameRow>.ChunkRows)[(_taken % ChunkedTable<FrameRow>.ChunkRows)..];
            foreach (ref readonly FrameRow frame in rows)
            {
                if (frame.TimeNsField == CapturedFrame.NoTime)
                    continue;
                first = Math.Min(first, frame.TimeNsField);
                last = Math.Max(last, frame.TimeNsField);
            }
            _taken += rows.Length;
        }
        (_first, _last) = (first, last);
    }
}
