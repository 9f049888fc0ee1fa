using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A line that went back and counts on from there.</summary>
/// <param name="HighestFlood">Row of the flood with the highest number before.</param>
/// <param name="FirstFlood">Row of the first flood after.</param>
/// <param name="SecondFlood">Row of the one that confirms it.</param>
/// <param name="LastFlood">Row of the last flood heard on the new line.</param>
/// <param name="Originals">True if the originals were heard, not relayed copies alone.</param>
/// <param name="Count">How often it went back.</param>
internal sealed record SequenceFall(int HighestFlood, int FirstFlood, int SecondFlood, int LastFlood, bool Originals, int Count)
{
    /// <summary>So many floods in a row with rising numbers, well below the highest, confirm a step back: of originals, and of copies that relays may have sent (ours).</summary>
    private const int EnoughOriginals = 2, EnoughCopies = 4;

    /// <summary>Numbers between two neighbours of a line that may all have been missed; a wider hole parts two lines (as for heard shares, ours).</summary>
    private const uint WidestHole = 64;

    /// <summary>Finds the first step back of a line; null where there is none, or where two lines alternate.</summary>
    /// <param name="history">The capture.</param>
    /// <param name="line">The numbers.</param>
    /// <param name="alternates">True if numbers go on where an older line left off: two nodes have the address.</param>
    public static SequenceFall? Of(CaptureHistory history, SequenceLine line, out bool alternates)
    {
        alternates = false;
        var seen = new Dictionary<uint, int>();
        var run = new List<int>();
        int highest = -1, last = -1;
        SequenceFall? fall = null;
        foreach (int row in line.Floods)
        {
            uint seq = history.Floods[row].Seq;
            if (seen.TryGetValue(seq, out int earlier) && IsSamePdu(in history.Floods[earlier], in history.Floods[row]))
                continue;       // heard again after a long time, not sent under an old number
            if (fall is not null && seq > history.Floods[fall.HighestFlood].Seq && seq > history.Floods[last].Seq + SequenceLine.MixedOrder)
            {
                alternates = true;
                return null;
            }
            uint top = highest < 0 ? 0 : history.Floods[highest].Seq;
            if (highest >= 0 && seq + SequenceLine.MixedOrder < top)
            {
                if (run.Count > 0 && seq <= history.Floods[run[^1]].Seq)
                    run.Clear();
                run.Add(row);
                if (IsConfirmed(history, run, out bool originals))
                {
                    if (fall is null && ContinuesAnOlderLine(seen, history.Floods[run[0]].Seq))
                    {
                        alternates = true;
                        return null;
                    }
                    fall = fall is null ? new SequenceFall(highest, run[0], run[1], row, originals, 1) : fall with { Count = fall.Count + 1 };
                    (highest, last) = (row, row);
                    foreach (int taken in run)
                        seen[history.Floods[taken].Seq] = taken;
                    run.Clear();
                }
                continue;
            }
            run.Clear();
            seen[seq] = row;
            last = row;
            if (highest < 0 || seq > top)
                highest = row;
        }
        return fall is null ? null : fall with { LastFlood = last };
    }

    private static bool IsConfirmed(CaptureHistory history, List<int> run, out bool originals)
    {
        originals = run.Count(row => IsOriginal(history, row)) >= EnoughOriginals;
        return originals || run.Count >= EnoughCopies;
    }

    private static bool IsOriginal(CaptureHistory history, int row) =>
        history.OriginatorHeard(row) && history.Senders is { } senders && history.Floods[row].HighestTtl == senders.Streams[senders.Streams.Of(row)].HighestHeard;

    /// <summary>The number follows on one that was heard before a wide hole: that line was there already.</summary>
    private static bool ContinuesAnOlderLine(Dictionary<uint, int> seen, uint seq)
    {
        uint? below = null, above = null;
        foreach (uint heard in seen.Keys)
        {
            if (heard < seq)
                below = Math.Max(below ?? 0, heard);
            else
                above = Math.Min(above ?? uint.MaxValue, heard);
        }
        return below is { } low && above is { } high && high - low > WidestHole;
    }

    private static bool IsSamePdu(in FloodRow one, in FloodRow other) =>
        one.Dst == other.Dst && one.Ctl == other.Ctl && one.TransportPdu.SequenceEqual(other.TransportPdu);
}
