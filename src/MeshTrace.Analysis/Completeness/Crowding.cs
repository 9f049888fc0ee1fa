namespace MeshTrace.Analysis.Completeness;

/// <summary>A time in which a channel was full, or what came over it damaged, where a receiver stood.</summary>
/// <param name="Receiver">Index of the receiver.</param>
/// <param name="FromNs">Begin.</param>
/// <param name="ToNs">End.</param>
/// <param name="Load">Share of the time that the frames heard take up on a channel, 0 to 1: what was not heard comes on top.</param>
/// <param name="BadShare">Share of the frames with a wrong CRC, 0 to 1.</param>
internal readonly record struct CrowdedSpan(int Receiver, long FromNs, long ToNs, double Load, double BadShare);

/// <summary>Finds the times in which the channels were crowded, second by second.</summary>
internal static class Crowding
{
    /// <summary>Above these a second is crowded (ours).</summary>
    public const double MostLoad = 0.10, MostBad = 0.20;

    /// <summary>Damage that is always there tells of no crowd: a crowded second has so many times the receiver's usual share (ours).</summary>
    private const double TimesUsual = 2;

    /// <summary>It lasts so long at least (ours).</summary>
    public const long LeastNs = 5_000_000_000;

    /// <summary>Of fewer frames a second a share of damaged ones says nothing (ours).</summary>
    private const int EnoughFrames = 10;

    private const long SecondNs = 1_000_000_000;

    /// <summary>A legacy advertising PDU of the usual length on the air at 8 µs an octet: 1 + 4 + 2 + 6 + 30 + 3 octets (Core vol 6 part B §2.1).</summary>
    private const double FrameNs = 46 * 8_000.0;

    public static List<CrowdedSpan> Find(ReceiverWatch watch, IReadOnlyList<ReceiverView> views)
    {
        var spans = new List<CrowdedSpan>();
        for (int receiver = 0; receiver < watch.Receivers; receiver++)
            FindOf(receiver, watch, views[receiver].Plan == ChannelPlan.AllAtOnce ? 3 : 1, spans);
        return spans;
    }

    private static void FindOf(int receiver, ReceiverWatch watch, int channels, List<CrowdedSpan> spans)
    {
        (int[] frames, _) = watch.SlotsOf(receiver);
        int[] bad = watch.BadOf(receiver);
        int joined = (int)Math.Max(1, SecondNs / watch.SlotNs);
        long all = 0, damaged = 0, everything = frames.Sum(count => (long)count);
        double mostBad = Math.Max(MostBad, everything == 0 ? 0 : TimesUsual * bad.Sum(count => (long)count) / everything);
        int from = -1;
        for (int at = 0; at <= frames.Length; at += joined)
        {
            int to = Math.Min(at + joined, frames.Length);
            int count = frames[Math.Min(at, frames.Length)..to].Sum(), wrong = bad.Length == 0 ? 0 : bad[Math.Min(at, bad.Length)..to].Sum();
            double load = count * FrameNs / ((double)joined * watch.SlotNs * channels);
            if (at < frames.Length && (load > MostLoad || (count >= EnoughFrames && wrong > mostBad * count)))
            {
                (from, all, damaged) = (from < 0 ? at : from, all + count, damaged + wrong);
                continue;
            }
            if (from >= 0 && (at - from) * watch.SlotNs >= LeastNs)
                spans.Add(new CrowdedSpan(receiver, watch.BeginOf(from), watch.BeginOf(at), all * FrameNs / ((double)(at - from) * watch.SlotNs * channels), damaged / (double)all));
            (from, all, damaged) = (-1, 0, 0);
        }
    }
}
