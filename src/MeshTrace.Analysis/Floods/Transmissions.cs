using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Floods;

/// <summary>
/// Finds the copies that are one transmission: the same octets on the same channel at the same time, heard by different receivers whose clocks are aligned.
/// Receivers whose clocks could not be aligned, or only roughly, share no transmissions with others.
/// </summary>
internal static class Transmissions
{
    /// <summary>Times of one transmission differ by this and by what the alignment leaves; alignments that leave more tell nothing here.</summary>
    private const long SameNs = 100_000, RoughNs = 100_000;

    /// <summary>Copies stand in the order of time: of one transmission at most so many others stand between.</summary>
    private const int MostBetween = 64;

    /// <returns>A number from 1 for each copy, 0 where it did not come by advertising.</returns>
    public static int[] Number(CaptureHistory history, ReadOnlySpan<FloodCopy> copies)
    {
        int[] numbers = new int[copies.Length];
        int count = 0;
        for (int at = 0; at < copies.Length; at++)
            if (copies[at].Bearer == Bearer.Advertising)
                numbers[at] = Known(history, copies, numbers, at) is var known and > 0 ? known : ++count;
        return numbers;
    }

    private static int Known(CaptureHistory history, ReadOnlySpan<FloodCopy> copies, int[] numbers, int at)
    {
        ref readonly FrameRow frame = ref history.Frames[copies[at].Frame];
        if (ResidualOf(history, frame.Receiver) is not { } own || frame.TimeNs == CapturedFrame.NoTime || !frame.HasAdvertiser)
            return 0;
        (int best, long bestNs) = (0, long.MaxValue);
        for (int before = at - 1; before >= Math.Max(0, at - MostBetween); before--)
        {
            ref readonly FrameRow other = ref history.Frames[copies[before].Frame];
            if (numbers[before] == 0 || other.TimeNs == CapturedFrame.NoTime || !IsSame(in frame, in other) || copies[before].Ttl != copies[at].Ttl
                || ResidualOf(history, other.Receiver) is not { } residual)
                continue;
            long apart = Math.Abs(frame.TimeNs - other.TimeNs);
            if (apart <= SameNs + own + residual && apart < bestNs && !HasReceiver(history, copies, numbers, at, numbers[before]))
                (best, bestNs) = (numbers[before], apart);
        }
        return best;
    }

    /// <summary>The distinct mesh content tells the octets; type and advertiser are the rest of the PDU.</summary>
    private static bool IsSame(in FrameRow one, in FrameRow other) =>
        one.Receiver != other.Receiver && one.Content == other.Content && one.Advertiser == other.Advertiser && one.HasAdvertiser == other.HasAdvertiser
        && one.AdvertiserIsRandom == other.AdvertiserIsRandom && one.PduType == other.PduType
        && (one.Channel is not { } channel || other.Channel is not { } otherChannel || channel == otherChannel);

    private static bool HasReceiver(CaptureHistory history, ReadOnlySpan<FloodCopy> copies, int[] numbers, int at, int number)
    {
        for (int before = at - 1; before >= Math.Max(0, at - MostBetween); before--)
            if (numbers[before] == number && history.Frames[copies[before].Frame].Receiver == history.Frames[copies[at].Frame].Receiver)
                return true;
        return false;
    }

    /// <summary>What the alignment of a receiver leaves, or null where its clock tells nothing beside others.</summary>
    private static long? ResidualOf(CaptureHistory history, int receiver) =>
        receiver >= history.Receivers.Count || history.Receivers[receiver].Clock is not { Basis: ClockBasis.Reference or ClockBasis.Aligned or ClockBasis.Given or ClockBasis.NothingShared } clock
        || clock.LargeResidualNs > RoughNs ? null : clock.LargeResidualNs;
}
