using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Completeness;

/// <summary>
/// Goes once over all frames for whoever needs every one of them: the copies of each flood, the counts, and what each receiver gave. The table does not
/// fit the processor's caches, so each chunk is given to all of them in turn. On two cores one half is gone over from the first frame on and the other
/// from the last frame back.
/// </summary>
internal static class FrameSweep
{
    /// <summary>Fills copies, counts and time span into the history, and tells what the receivers gave.</summary>
    /// <param name="history">All its frames are placed in floods.</param>
    /// <param name="span">First and last time of the frames, or null where none has a time.</param>
    public static ReceiverWatch Run(CaptureHistory history, (long First, long Last)? span)
    {
        history.TimeSpanNs = span;
        var copies = new CopyPlacement(history);
        int chunks = history.Frames.Chunks, contents = history.Contents.Count;
        Half all = new(history, copies, backwards: false);
        if (history.Cores == 1)
            all.Run(0, chunks, 0, contents);
        else
        {
            Half later = new(history, copies, backwards: true);
            int middle = chunks / 2, middleContent = contents / 2;
            SideBySide.Run(history.Cores, () => all.Run(0, middle, 0, middleContent), () => later.Run(middle, chunks, middleContent, contents));
            all.Join(later);
        }
        copies.Conclude();
        all.Traffic.Conclude();
        history.FrameCounts = all.Counts;
        return all.Watch;
    }

    /// <summary>Frames that one core goes over.</summary>
    private sealed class Half(CaptureHistory history, CopyPlacement copies, bool backwards)
    {
        public TrafficCount Traffic { get; } = new(history);
        public FrameCounts Counts { get; } = new();
        public ReceiverWatch Watch { get; } = new(history, backwards);

        public void Run(int from, int to, int fromContent, int toContent)
        {
            CopyPlacement.Way way = backwards ? copies.FromLast(Traffic) : copies.FromFirst(Traffic);
            for (int chunk = from; chunk < to; chunk++)
                Take(backwards ? from + to - 1 - chunk : chunk, way);
            Traffic.TakeContents(fromContent, toContent);
        }

        public void Join(Half later)
        {
            Traffic.Join(later.Traffic);
            Counts.Join(later.Counts);
            Watch.Join(later.Watch);
        }

        private void Take(int chunk, CopyPlacement.Way way)
        {
            ReadOnlySpan<FrameRow> rows = history.Frames.Chunk(chunk);
            int first = chunk * ChunkedTable<FrameRow>.ChunkRows;
            Counts.Take(rows);
            Watch.Take(rows, first);
            way.Take(rows, first);
        }
    }
}
