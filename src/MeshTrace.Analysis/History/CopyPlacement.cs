using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Contents;

namespace MeshTrace.Analysis.History;

/// <summary>
/// Lists the copies of each flood in one array for all. How many each flood has is known before, so two may fill it at the same time: one from the first
/// frame on, one from the last frame back. Wherever they meet, the copies stand in the order of their frames.
/// </summary>
internal sealed class CopyPlacement
{
    private readonly CaptureHistory _history;
    private readonly int[] _starts;
    private readonly FloodCopy[] _copies;
    private readonly HeardCopy[] _heard;

    public CopyPlacement(CaptureHistory history)
    {
        _history = history;
        _starts = FreshArray.Of<int>(history.Floods.Count + 1);
        int flood = 0, sum = 0;
        for (int chunk = 0; chunk < history.Floods.Chunks; chunk++)
        {
            foreach (ref readonly Floods.FloodRow row in history.Floods.Chunk(chunk))
                _starts[++flood] = sum += row.Copies;
        }
        _copies = FreshArray.Of<FloodCopy>(sum);
        _heard = FreshArray.Of<HeardCopy>(sum);
    }

    /// <summary>Whoever goes through the frames forwards, from the first one on.</summary>
    public Way FromFirst(TrafficCount traffic) => new(this, traffic, CopyOf(_starts.AsSpan(..^1)), backwards: false);

    /// <summary>Whoever goes through the frames backwards, from the last one on.</summary>
    public Way FromLast(TrafficCount traffic) => new(this, traffic, CopyOf(_starts.AsSpan(1)), backwards: true);

    /// <summary>Every frame was taken by one of the two.</summary>
    public void Conclude() => _history.Copies.Fill(_starts, _copies, _heard);

    private static int[] CopyOf(ReadOnlySpan<int> places)
    {
        int[] copy = FreshArray.Of<int>(places.Length);
        places.CopyTo(copy);
        return copy;
    }

    /// <summary>One of those who fill the array, and what it counts on its way.</summary>
    /// <param name="all">What is filled.</param>
    /// <param name="traffic">Told the copies of what no key opened.</param>
    /// <param name="places">Of each flood: forwards the next place, backwards the one behind it.</param>
    /// <param name="backwards">From the last frame to the first.</param>
    public sealed class Way(CopyPlacement all, TrafficCount traffic, int[] places, bool backwards)
    {
        private readonly ContentTable _contents = all._history.Contents;
        private readonly List<(int Frame, int Content)> _furtherContents = all._history.FurtherContents;
        private readonly int[] _starts = all._starts;
        private readonly FloodCopy[] _copies = all._copies;
        private readonly HeardCopy[] _heard = all._heard;
        private int _further = backwards ? all._history.FurtherContents.Count - 1 : 0;

        /// <summary>Takes the frames of one chunk.</summary>
        /// <param name="rows">The rows, in their order.</param>
        /// <param name="first">Row of the first one.</param>
        public void Take(ReadOnlySpan<FrameRow> rows, int first)
        {
            if (backwards)
            {
                for (int at = rows.Length - 1; at >= 0; at--)
                {
                    ref readonly FrameRow frame = ref rows[at];
                    if (frame.Content < 0)
                        continue;
                    for (; _further >= 0 && _furtherContents[_further].Frame == first + at; _further--)
                        Place(_furtherContents[_further].Content, first + at, in frame);
                    Place(frame.Content, first + at, in frame);
                }
                return;
            }
            for (int at = 0; at < rows.Length; at++)
            {
                ref readonly FrameRow frame = ref rows[at];
                if (frame.Content < 0)
                    continue;
                Place(frame.Content, first + at, in frame);
                for (; _further < _furtherContents.Count && _furtherContents[_further].Frame == first + at; _further++)
                    Place(_furtherContents[_further].Content, first + at, in frame);
            }
        }

        private void Place(int content, int row, in FrameRow frame)
        {
            ref readonly ContentRow told = ref _contents[content];
            if (!told.Kind.IsNetworkPdu())
                return;
            if (told.State != ContentState.Opened)
            {
                traffic.CountUnopened(in told);
                return;
            }
            int flood = told.Owner;
            if (flood < 0 || places[flood] == _starts[backwards ? flood : flood + 1])
                return;
            int place = backwards ? --places[flood] : places[flood]++;
            _copies[place] = new FloodCopy(row, told.Ttl) { Bearer = told.Kind.Bearer() };
            _heard[place] = new HeardCopy(in frame);
        }
    }
}
