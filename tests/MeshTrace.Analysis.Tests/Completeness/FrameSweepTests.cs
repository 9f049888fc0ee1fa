using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Tests.Completeness;

/// <summary>Going over the frames from both ends at once tells what going over them from the first to the last tells (arithmetic, no source).</summary>
public class FrameSweepTests
{
    private const int Floods = 300, ReceiversNamed = 3;

    /// <summary>One chunk, which is then gone over backwards alone, and several, the last of which is not full.</summary>
    [Theory, InlineData(1), InlineData(700), InlineData(4_096), InlineData(30_011)]
    public void TwoCores_TellWhatOneTells(int frames)
    {
        CaptureHistory one = Made(frames), two = Made(frames);
        two.Cores = 2;
        (long, long)? span = SpanOf(one);
        ReceiverWatch watched = FrameSweep.Run(one, span), watchedByTwo = FrameSweep.Run(two, span);
        for (int flood = 0; flood < Floods; flood++)
        {
            Assert.Equal(one.CopiesOf(flood).ToArray(), two.CopiesOf(flood).ToArray());
            Assert.Equal(Told(one.Copies.HeardOf(flood)), Told(two.Copies.HeardOf(flood)));
        }
        Assert.Equal(one.UnknownNids, two.UnknownNids);
        Assert.Equal((one.DistinctNetworkPdus, one.OpenedNetworkPdus, one.TimeSpanNs), (two.DistinctNetworkPdus, two.OpenedNetworkPdus, two.TimeSpanNs));
        Assert.Equal(Told(one.FrameCounts), Told(two.FrameCounts));
        Assert.Equal(watched.Receivers, watchedByTwo.Receivers);
        Assert.Equal(watched.Views(), watchedByTwo.Views());
        for (int receiver = 0; receiver < watched.Receivers; receiver++)
        {
            Assert.Equal(watched.SlotsOf(receiver).Frames, watchedByTwo.SlotsOf(receiver).Frames);
            Assert.Equal(watched.SlotsOf(receiver).FirstRows, watchedByTwo.SlotsOf(receiver).FirstRows);
            Assert.Equal(watched.BadOf(receiver), watchedByTwo.BadOf(receiver));
        }
    }

    [Theory, InlineData(1), InlineData(2)]
    public void Copies_StandInTheOrderOfTheirFrames_WithWhatWasHeard(int cores)
    {
        CaptureHistory history = Made(20_000);
        history.Cores = cores;
        FrameSweep.Run(history, SpanOf(history));
        var expected = new List<(int Frame, byte Ttl)>[Floods];
        for (int flood = 0; flood < Floods; flood++)
            expected[flood] = [];
        for (int frame = 0; frame < history.Frames.Count; frame++)
        {
            foreach (int content in ContentsOf(history, frame))
                if (history.ContentFlood(content) is var flood and >= 0)
                    expected[flood].Add((frame, history.Contents[content].Ttl));
        }
        Assert.Contains(expected, copies => copies.Count > 10);
        for (int flood = 0; flood < Floods; flood++)
        {
            Assert.Equal(expected[flood], history.CopiesOf(flood).ToArray().Select(copy => (copy.Frame, copy.Ttl)));
            Assert.Equal(expected[flood].Select(copy => Told(history.Frames[copy.Frame])), Told(history.Copies.HeardOf(flood)));
        }
    }

    /// <summary>Counted frame by frame, as the records show them.</summary>
    [Theory, InlineData(1), InlineData(2)]
    public void FramesAreCounted_ByWhatTheirRowsTell(int cores)
    {
        CaptureHistory history = Made(9_000);
        history.Cores = cores;
        FrameSweep.Run(history, SpanOf(history));
        FrameRow[] frames = [.. Enumerable.Range(0, history.Frames.Count).Select(row => history.Frames[row])];
        FrameCounts counts = history.FrameCounts;
        Assert.Equal(frames.Length, counts.Frames);
        Assert.Equal(frames.Count(frame => (frame.Carries & ~(Carries.Connection | Carries.Other)) != 0), counts.Mesh);
        Assert.Equal(frames.Count(frame => frame.Crc != CrcState.Unknown), counts.CrcChecked);
        Assert.Equal(frames.Count(frame => frame.Crc == CrcState.Bad), counts.CrcBad);
        Assert.Equal(frames.Count(frame => frame.Channel is not null), counts.WithChannel);
        Assert.Equal(frames.Count(frame => frame.Problem == FrameProblem.UnsupportedLinkType), counts.Unsupported);
        for (int channel = 0; channel < 40; channel++)
            Assert.Equal(frames.Count(frame => frame.Channel == channel), counts.OnChannel(channel));
        Assert.Equal(Told(counts), Told(FrameCounts.Of(history.Frames)));
    }

    [Fact]
    public void CaptureSpan_IsThatOfAllFramesWithTimes_InWhateverOrder()
    {
        var frames = new ChunkedTable<FrameRow>();
        var span = new CaptureSpan(frames);
        span.Take();
        Assert.Null(span.Told);
        foreach (long timeNs in (long[])[CapturedFrame.NoTime, 50, CapturedFrame.NoTime, 30])
            frames.Add(new FrameRow { TimeNsField = timeNs });
        span.Take();
        Assert.Equal((30, 50), span.Told);
        for (int row = 0; row < 10_000; row++)
            frames.Add(new FrameRow { TimeNsField = 100 + row });
        frames.Add(new FrameRow { TimeNsField = 7 });
        span.Take();
        span.Take();
        Assert.Equal((7, 10_099), span.Told);
    }

    /// <summary>Frames of all kinds by chance: some with two contents, without time, without advertiser, in disorder; and one receiver that nobody named.</summary>
    private static CaptureHistory Made(int frames)
    {
        var random = new Random(frames);
        var history = new CaptureHistory
        {
            Keys = new KeyRing(), Receivers = [.. Enumerable.Range(0, ReceiversNamed).Select(index => new ReceiverDescription(index, "made", null, LinkType.LeLinkLayer))],
        };
        for (int flood = 0; flood < Floods; flood++)
            history.Floods.Add(new FloodRow { MessageField = -1, TransferField = -1 });
        int[] contents = [.. Enumerable.Range(0, 2 * Floods).Select(number => AddContent(history, random, number))];
        for (int row = 0; row < frames; row++)
        {
            bool hasAdvertiser = random.Next(5) > 0;
            int? channel = random.Next(8) switch { 0 => null, 1 => random.Next(37), _ => random.Next(37, 40) };
            int content = random.Next(3) == 0 ? contents[Near(random, row, frames, contents.Length)] : -1;
            history.Frames.Add(new FrameRow
            {
                TimeNsField = random.Next(20) == 0 ? CapturedFrame.NoTime : 1_000_000_000_000 + (row * 1_000_000L) + random.Next(-3_000_000, 3_000_000),
                Packed = FrameRow.Pack((ulong)random.Next(1, 4), hasAdvertiser, false, 2, channel, (CrcState)random.Next(3)),
                Content = content, ReceiverField = (ushort)random.Next(ReceiversNamed + 1), RssiField = (sbyte)random.Next(-90, -40),
                CarriesField = (Carries)(1 << random.Next(12)), ProblemField = (FrameProblem)random.Next(6),
            });
            Count(history, content);
            while (content >= 0 && random.Next(4) == 0)
            {
                int further = contents[random.Next(contents.Length)];
                history.FurtherContents.Add((row, further));
                Count(history, further);
            }
        }
        return history;
    }

    private static int AddContent(CaptureHistory history, Random random, int number)
    {
        ContentKind kind = random.Next(10) switch { 0 => ContentKind.SecureBeacon, 1 => ContentKind.GattFromClient, _ => ContentKind.MeshMessage };
        int row = history.Contents.Intern(kind, [(byte)random.Next(256), (byte)number, (byte)(number >> 8), 1, 2, 3, 4, 5, 6, 7]);
        ref ContentRow content = ref history.Contents[row];
        content.State = random.Next(4) == 0 ? (ContentState)random.Next(5) : ContentState.Opened;
        content.Owner = content.State == ContentState.Opened && kind.IsNetworkPdu() ? number / 2 : -1;
        content.Ttl = (byte)(number % 8);
        return row;
    }

    /// <summary>What is heard at about the same time is of about the same floods, now and then of any other.</summary>
    private static int Near(Random random, int row, int frames, int contents) =>
        random.Next(10) == 0 ? random.Next(contents) : Math.Clamp((int)((long)row * contents / frames) + random.Next(-6, 7), 0, contents - 1);

    private static void Count(CaptureHistory history, int content)
    {
        if (content >= 0 && history.ContentFlood(content) is var flood and >= 0)
            history.Floods[flood].Copies++;
    }

    private static IEnumerable<int> ContentsOf(CaptureHistory history, int frame) =>
        history.Frames[frame].Content < 0 ? [] : [history.Frames[frame].Content, .. history.FurtherContents.Where(further => further.Frame == frame).Select(further => further.Content)];

    private static (long, long)? SpanOf(CaptureHistory history)
    {
        var span = new CaptureSpan(history.Frames);
        span.Take();
        return span.Told;
    }

    private static List<(long, bool, ulong, int, int, int)> Told(ReadOnlySpan<HeardCopy> heard)
    {
        var told = new List<(long, bool, ulong, int, int, int)>();
        foreach (ref readonly HeardCopy copy in heard)
            told.Add((copy.TimeNs, copy.HasAdvertiser, copy.HasAdvertiser ? copy.Advertiser : 0, copy.Channel, copy.Receiver, copy.Rssi));
        return told;
    }

    private static (long, bool, ulong, int, int, int) Told(FrameRow frame) => (frame.TimeNs, frame.HasAdvertiser, frame.Advertiser, frame.ChannelField, frame.Receiver, frame.RssiField);

    private static object Told(FrameCounts counts) =>
        (counts.Frames, counts.Mesh, counts.Unsupported, counts.CrcChecked, counts.CrcBad, counts.WithChannel, string.Join(' ', Enumerable.Range(0, 64).Select(counts.OnChannel)));
}
