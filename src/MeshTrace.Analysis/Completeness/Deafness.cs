using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Completeness;

/// <summary>
/// Finds the times in which a receiver was deaf. Mesh traffic comes in bursts, so its absence tells nothing: what counts is that a steady level of
/// frames breaks off and comes back, with the same advertisers.
/// </summary>
internal sealed class Deafness(CaptureHistory history, ReceiverWatch watch)
{
    /// <summary>A level is steady if more than half of the slots have so many frames.</summary>
    private const int SteadyFrames = 3;

    /// <summary>Slots before and after a gap that tell its level.</summary>
    private const int Neighbours = 20;

    /// <summary>Of the level, so much may still come through ("far fewer"; threshold ours).</summary>
    private const double NextToNothing = 0.1;

    /// <summary>No place is looked at whose level would have to be so many times the usual one.</summary>
    private const int FarAboveUsual = 5;

    /// <summary>Frames that should have come: three frames often belong to one event, so this is some 20 independent chances, one in 500 million to be all missed.</summary>
    private const double EnoughExpected = 60;

    /// <summary>Advertisers that are heard both before and after: one alone may have left and come back.</summary>
    private const int EnoughAdvertisers = 2;

    /// <summary>Slots are joined until the level is steady, but not beyond this many.</summary>
    private const int MostJoined = 64;

    private readonly List<DeafSpan> _spans = [];

    public DeafTimes Find()
    {
        for (int receiver = 0; receiver < watch.Receivers; receiver++)
            FindOf(receiver);
        _spans.AddRange(history.RecorderLosses);
        return new DeafTimes([.. _spans.OrderBy(span => span.Receiver).ThenBy(span => span.FromNs)], watch.Receivers);
    }

    private void FindOf(int receiver)
    {
        (int[] frames, int[] firstRows) = watch.SlotsOf(receiver);
        int first = Array.FindIndex(frames, count => count > 0), last = Array.FindLastIndex(frames, count => count > 0);
        if (first < 0)
            return;
        for (int joined = 1; joined <= MostJoined; joined *= 2)
        {
            int[] levels = Join(frames.AsSpan(first..(last + 1)), joined);
            int usual = Median(levels);
            if (usual < SteadyFrames)
                continue;
            for (int from = 1; from < levels.Length; from++)
            {
                int to = from;
                if (levels[from] > NextToNothing * FarAboveUsual * usual)
                    continue;       // not worth a look at its neighbours
                double level = LevelAt(levels, from, -1);
                while (level >= SteadyFrames && to < levels.Length && levels[to] <= NextToNothing * level)
                    to++;
                if (to > from)
                    Judge(receiver, levels, first, joined, from, to, level, frames, firstRows);
                from = Math.Max(from, to);
            }
            return;
        }
    }

    private void Judge(int receiver, int[] levels, int first, int joined, int from, int to, double before, int[] frames, int[] firstRows)
    {
        double level = Math.Min(before, LevelAt(levels, to - 1, 1));
        if (level < SteadyFrames || level * (to - from) < EnoughExpected)
            return;
        int fromSlot = first + (from * joined), toSlot = first + (to * joined);
        if (AdvertisersBothSides(receiver, firstRows, fromSlot, toSlot, Neighbours * joined) < EnoughAdvertisers)
            return;
        while (fromSlot > first && frames[fromSlot - 1] == 0)
            fromSlot--;
        while (toSlot < frames.Length && frames[toSlot] == 0)
            toSlot++;
        _spans.Add(new DeafSpan(receiver, watch.BeginOf(fromSlot), watch.BeginOf(toSlot), DeafReason.Silence, 0));
    }

    private int AdvertisersBothSides(int receiver, int[] firstRows, int fromSlot, int toSlot, int slots)
    {
        HashSet<ulong> before = AdvertisersIn(receiver, firstRows, fromSlot - slots, fromSlot), after = AdvertisersIn(receiver, firstRows, toSlot, toSlot + slots);
        before.IntersectWith(after);
        return before.Count;
    }

    private HashSet<ulong> AdvertisersIn(int receiver, int[] firstRows, int fromSlot, int toSlot)
    {
        var advertisers = new HashSet<ulong>();
        for (int slot = Math.Max(0, fromSlot); slot < Math.Min(toSlot, firstRows.Length); slot++)
        {
            if (firstRows[slot] < 0)
                continue;
            long endNs = watch.BeginOf(slot + 1);
            for (int row = firstRows[slot]; row < history.Frames.Count; row++)
            {
                ref FrameRow frame = ref history.Frames[row];
                if (frame.TimeNs >= endNs)
                    break;
                if (frame.Receiver == receiver && frame.HasAdvertiser)
                    advertisers.Add(frame.Advertiser);
            }
        }
        return advertisers;
    }

    /// <summary>Median of the slots next to a place, in one direction, the place itself left out.</summary>
    private static double LevelAt(int[] levels, int at, int direction)
    {
        Span<int> near = stackalloc int[Neighbours];
        int count = 0;
        for (int i = at + direction; i >= 0 && i < levels.Length && count < Neighbours; i += direction)
            near[count++] = levels[i];
        near = near[..count];
        near.Sort();
        return count == 0 ? 0 : near[count / 2];
    }

    private static int[] Join(ReadOnlySpan<int> frames, int joined)
    {
        int[] levels = new int[frames.Length / joined];
        for (int i = 0; i < levels.Length * joined; i++)
            levels[i / joined] += frames[i];
        return levels;
    }

    private static int Median(int[] levels)
    {
        int[] sorted = [.. levels];
        Array.Sort(sorted);
        return sorted.Length == 0 ? 0 : sorted[sorted.Length / 2];
    }
}
