using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Analysis.Tests.Contents;

/// <summary>Reading ahead on a core of its own gives what reading on one core gives.</summary>
public class BlockReadingTests
{
    private static readonly LoadPlan Plan = new() { Frames = 50_000 };
    private static readonly byte[] Capture = Composed(LoadComposer.WriteCapture), Description = Composed(LoadComposer.WriteDescription);

    [Theory, InlineData(0), InlineData(1_000_003)]
    public void TwoCores_FindWhatOneFinds(int cutAt)
    {
        byte[] capture = cutAt == 0 ? Capture : Capture[..cutAt];
        CaptureHistory one = Analysed(capture, 1), two = Analysed(capture, 2);
        Assert.True(one.Frames.Count > 2 * FrameBlock.MostFrames);
        Assert.Equal(one.Frames.Count, two.Frames.Count);
        for (int row = 0; row < one.Frames.Count; row++)
            Assert.Equal(Told(one.Frames[row], one.FloodOf(row)), Told(two.Frames[row], two.FloodOf(row)));
        Assert.Equal(one.Floods.Count, two.Floods.Count);
        for (int row = 0; row < one.Floods.Count; row++)
            Assert.Equal(Told(one.Floods[row]), Told(two.Floods[row]));
        Assert.Equal(one.Presses.Select(press => (press.TimeNs, press.Src, press.Dst, press.Outcome)), two.Presses.Select(press => (press.TimeNs, press.Src, press.Dst, press.Outcome)));
        Assert.Equal(one.Findings.Select(finding => (finding.Id, finding.Says)), two.Findings.Select(finding => (finding.Id, finding.Says)));
        Assert.Equal(one.Damages, two.Damages);
        Assert.Equal(one.Receivers, two.Receivers);
    }

    /// <summary>Frames that need those before them come between others, and in blocks that end early because they are long.</summary>
    [Theory, InlineData(1), InlineData(2)]
    public void KeptFrames_StayInTheirOrder(int cores)
    {
        byte[] unreadable = new byte[200_000];      // a command of a host log: no advertisement, perhaps of a connection
        unreadable[0] = 0x01;
        var source = new Numbered(20_000, number => number % 1_000 == 7 ? (LinkType.HciH4, unreadable) : (LinkType.LeLinkLayer, new byte[] { 1 }));
        var analysis = new CaptureAnalysis(new AnalysisSettings { Cores = cores });
        analysis.Read(source);
        Assert.Equal(20_000, analysis.History.Frames.Count);
        for (int row = 0; row < 20_000; row++)
            Assert.Equal((row, row % 1_000 == 7 ? Carries.Other : Carries.None), ((int)analysis.History.Frames[row].TimeNs, analysis.History.Frames[row].Carries));
    }

    [Theory, InlineData(1, 100), InlineData(2, 100), InlineData(1, 30_000), InlineData(2, 30_000)]
    public void SourceThatFails_FailsTheReading(int cores, int after)
    {
        var source = new Numbered(100_000, number => number < after ? (LinkType.LeLinkLayer, new byte[] { 1 }) : throw new IOException("the disk is gone"));
        var analysis = new CaptureAnalysis(new AnalysisSettings { Cores = cores });
        Assert.Throws<IOException>(() => analysis.Read(source));
    }

    [Theory, InlineData(1), InlineData(2)]
    public void Stopped_TakesWhatWasReadUntilThenAndLeavesTheSource(int cores)
    {
        using var stop = new CancellationTokenSource();
        var source = new Numbered(1_000_000, _ => (LinkType.LeLinkLayer, [1]));
        var analysis = new CaptureAnalysis(new AnalysisSettings { Cores = cores });
        analysis.Read(source, (_, _) => stop.Cancel(), stop.Token);
        long given = source.Position;
        Assert.Equal(FrameBlock.MostFrames, analysis.History.Frames.Count);
        Assert.InRange(given, FrameBlock.MostFrames, 10 * FrameBlock.MostFrames);
        Thread.Sleep(20);
        Assert.Equal(given, source.Position);
    }

    /// <summary>Whoever takes blocks may read too, but not from a source that may let its reader wait: a block that is there must not wait for the next one.</summary>
    [Fact]
    public async Task PipeThatPauses_GivesWhatIsThere()
    {
        for (int round = 0; round < 30; round++)
        {
            using ManualResetEventSlim more = new(), taken = new();
            const int Blocks = 3;
            var source = new Numbered((Blocks * FrameBlock.MostFrames) + 5, number =>
            {
                if (number == Blocks * FrameBlock.MostFrames)
                    more.Wait();
                return (LinkType.LeLinkLayer, [1]);
            }) { HasLength = false };
            Task taking = Task.Factory.StartNew(() =>
            {
                using var reading = new BlockReading(source, new TableMemory(), ahead: true);
                for (int block = 0; block < Blocks; block++)
                    reading.Next();
                taken.Set();
                Assert.Equal(5, reading.Next()!.Frames.Count);
                Assert.Null(reading.Next());
            }, CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
            bool inTime = taken.Wait(TimeSpan.FromSeconds(60));
            more.Set();
            await taking;
            Assert.True(inTime);
        }
    }

    [Fact]
    public void EveryFrame_ComesOnceInItsOrder_WhoeverReadIt()
    {
        for (int round = 0; round < 10; round++)
        {
            var source = new Numbered(100_000 + round, _ => (LinkType.LeLinkLayer, [1]));
            using var reading = new BlockReading(source, new TableMemory(), ahead: true);
            int expected = 0;
            while (reading.Next() is { } block)
            {
                if (expected % 3 == 0)
                    Thread.Yield();
                foreach (ref FrameRow row in block.Frames.Rows)
                    Assert.Equal(expected++, (int)row.TimeNs);
            }
            Assert.Equal(100_000 + round, expected);
            Assert.Null(reading.Next());
        }
    }

    /// <summary>A row has 48 bits for the place of its frame in the file.</summary>
    [Fact]
    public void PlaceBehindFourGibibytes_IsKept()
    {
        const long Place = (5L << 32) + 7;
        var source = new Numbered(3, _ => (LinkType.LeLinkLayer, [1])) { FirstOffset = Place };
        var analysis = new CaptureAnalysis(new AnalysisSettings());
        analysis.Read(source);
        Assert.Equal([Place, Place + 1, Place + 2], Enumerable.Range(0, 3).Select(row => analysis.History.Frames[row].FileOffset));
    }

    /// <summary>The same boundaries on any number of cores, for what is worked out before the end.</summary>
    [Fact]
    public void ProgressIsTold_AtTheSameFrames()
    {
        Assert.Equal(Told(1), Told(2));

        static List<(int, long)> Told(int cores)
        {
            var told = new List<(int, long)>();
            var analysis = new CaptureAnalysis(new AnalysisSettings { Cores = cores });
            using IFrameSource source = CaptureFile.Open(new MemoryStream(Capture), "load");
            analysis.Read(source, (position, _) => told.Add((analysis.History.Frames.Count, position)));
            return told;
        }
    }

    private static CaptureHistory Analysed(byte[] capture, int cores)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = NetworkDescriptionReader.Read(Description, "load"), Cores = cores });
        using IFrameSource source = CaptureFile.Open(new MemoryStream(capture), "load");
        analysis.Read(source);
        return analysis.Complete();
    }

    private static object Told(FrameRow row, int? flood) => (row.TimeNs, row.Packed, row.FileOffset, row.Receiver, row.Carries, row.Rssi, row.Problem, row.Content, flood);

    private static object Told(FloodRow row) => (row.Src, row.Dst, row.Seq, row.FirstTimeNs, row.LastTimeNs, row.Copies, row.FirstContent, row.OriginalTtl);

    private static byte[] Composed(Action<LoadPlan, Stream> write)
    {
        using var stream = new MemoryStream();
        write(Plan, stream);
        return stream.ToArray();
    }

    private static byte[] Composed(Func<LoadPlan, Stream, LoadSummary> write) => Composed((plan, stream) => { write(plan, stream); });

    /// <summary>Frames whose time is their number.</summary>
    private sealed class Numbered(int count, Func<int, (LinkType LinkType, byte[] Octets)> frameAt) : IFrameSource
    {
        private int _next;

        public long FirstOffset { get; init; }
        public IReadOnlyList<ReceiverDescription> Receivers { get; } = [new(0, "numbered", null, LinkType.LeLinkLayer)];
        public CaptureDamage? Damage => null;
        public long Position => Volatile.Read(ref _next);
        public bool HasLength { get; init; } = true;
        public long? Length => HasLength ? count : null;

        public bool TryReadNext(out CapturedFrame frame)
        {
            frame = default;
            if (_next == count)
                return false;
            (LinkType linkType, byte[] octets) = frameAt(_next);
            frame = new CapturedFrame { Receiver = 0, LinkType = linkType, TimeNs = _next, OriginalLength = octets.Length, FileOffset = FirstOffset + _next, Octets = octets };
            _next++;
            return true;
        }

        public void Dispose()
        {
        }
    }
}
