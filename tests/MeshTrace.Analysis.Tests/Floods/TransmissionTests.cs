using System.Globalization;
using System.Text;
using System.Text.Json;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Findings;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis;

namespace MeshTrace.Analysis.Tests.Floods;

/// <summary>Several receivers whose clocks disagree: aligned by what they heard, and copies of one transmission known as such.</summary>
public sealed class TransmissionTests : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("receivers").FullName;

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [Theory]
    [InlineData(1, 1830, 50, -1999, -37)]
    [InlineData(2, -2000, -50, 2000, 50)]
    [InlineData(3, 0, 0, 3, 5)]
    [InlineData(4, 9_000_000, 20, -15, -20)]      // one clock is hours ahead
    public void ClocksAreAligned_AndCopiesOfOneTransmissionFound(int seed, int offset1, int ppm1, int offset2, int ppm2)
    {
        (CaptureHistory history, JsonElement truth) = Analysed(Scenario(seed, ("three", 0, 0), ("three", offset1, ppm1), ("hop", offset2, ppm2)));

        (int Offset, int Ppm)[] clocks = [(0, 0), (offset1, ppm1), (offset2, ppm2)];
        for (int at = 1; at < clocks.Length; at++)
        {
            ReceiverClock clock = history.Receivers[at].Clock!;
            Assert.Equal(ClockBasis.Aligned, clock.Basis);
            Assert.InRange(clock.LargeResidualNs, 0, 100_000);
            Assert.InRange(clock.DriftPpm, clocks[at].Ppm - 0.2, clocks[at].Ppm + 0.2);
            Assert.InRange(clock.OffsetNs / 1e6, clocks[at].Offset - 3.0, clocks[at].Offset + 3.0);      // with the drift until its first frame
        }
        Assert.Equal(ClockBasis.Reference, history.Receivers[0].Clock!.Basis);

        Matching matching = Compare(history, truth);
        Assert.True(matching.Right > 300, $"{matching}");
        Assert.True(matching.Wrong <= 0.01 * matching.Right, $"{matching}");
        Assert.True(matching.Missed <= 0.01 * matching.Right, $"{matching}");
        AssertNeverMergedAcrossOctets(history);
        AssertInOrder(history);
    }

    /// <summary>
    /// Receivers that stay on one channel each never hear the same packet, only packets of one advertising event: their clocks are aligned by those, to about a millisecond.
    /// </summary>
    [Theory]
    [InlineData(11, 1830, 50, -1999, -37)]
    [InlineData(12, -2000, -50, 2000, 50)]
    [InlineData(13, 750, 0, 0, 0)]
    [InlineData(14, 9_000_000, 20, -15, -20)]
    public void ReceiversOnOneChannelEach_AreAlignedByEvents(int seed, int offset1, int ppm1, int offset2, int ppm2)
    {
        (CaptureHistory history, _) = Analysed(Scenario(seed, ("37", 0, 0), ("38", offset1, ppm1), ("39", offset2, ppm2)));

        (int Offset, int Ppm)[] clocks = [(0, 0), (offset1, ppm1), (offset2, ppm2)];
        for (int at = 1; at < clocks.Length; at++)
        {
            ReceiverClock clock = history.Receivers[at].Clock!;
            Assert.Equal(ClockBasis.Aligned, clock.Basis);
            if (clocks[at] == (0, 0))
                Assert.Equal((0, 0), (clock.OffsetNs, clock.DriftPpm));     // agrees as it is: the way between the channels is no difference of clocks
            Assert.InRange(clock.LargeResidualNs, 0, clocks[at] == (0, 0) ? 2_500_000 : 1_000_000);
            Assert.InRange(clock.DriftPpm, clocks[at].Ppm - 1, clocks[at].Ppm + 1);
            Assert.InRange(clock.OffsetNs / 1e6, clocks[at].Offset - 4.0, clocks[at].Offset + 4.0);      // with the drift until its first frame, and the way between the channels
        }
        // The copies of one event, each on its own channel, lie together in the one history: first copies of a flood within the time of an event.
        int together = 0, apart = 0;
        for (int flood = 0; flood < history.Floods.Count; flood++)
        {
            long[] firsts = [.. history.CopiesOf(flood).ToArray().Where(copy => copy.Ttl == history.Floods[flood].HighestTtl).Select(copy => history.Frames[copy.Frame])
                .GroupBy(frame => frame.Receiver).Where(heard => heard.Count() == 3).Select(heard => heard.Min(frame => frame.TimeNs))];
            if (firsts.Length == 3)
                _ = firsts.Max() - firsts.Min() < 3_000_000 ? together++ : apart++;
        }
        Assert.True(together > 50, $"{together} together, {apart} apart");
        Assert.True(apart <= 0.02 * together, $"{together} together, {apart} apart");
    }

    [Fact]
    public void SeparateFiles_AreOneSet()
    {
        byte[] capture = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(Scenario(5, ("three", 0, 0), ("three", -700, 12)))).Capture.ToArray();
        string[] paths = [Part(capture, 0), Part(capture, 1)];
        using IFrameSource source = CaptureFile.OpenAligned(paths);
        long before = 0;
        while (source.TryReadNext(out CapturedFrame frame))
        {
            Assert.True(frame.TimeNs >= before - 1_000_000, $"{before - frame.TimeNs} ns back");     // packets on two channels may overlap
            before = frame.TimeNs;
        }
        ReceiverClock clock = source.Receivers[1].Clock!;
        Assert.Equal(ClockBasis.Aligned, clock.Basis);
        Assert.InRange(clock.OffsetNs / 1e6, -703, -697);
    }

    [Fact]
    public void AReceiverThatTellsNoChannel_IsAlignedByTheRightOne()
    {
        byte[] capture = File.ReadAllBytes(Path.Combine(FindingsDocument.Repository(), "captures-demo", "boathouse.pcapng"));     // link type 251 on channel 37 beside 272 on all three, 3.25 ms and 18 ppm apart by its scenario
        string path = Path.Combine(_directory, "boathouse");
        File.WriteAllBytes(path, capture);
        using IFrameSource source = CaptureFile.OpenAligned([path]);
        while (source.TryReadNext(out _))
        {
        }
        ReceiverClock clock = source.Receivers[1].Clock!;
        Assert.InRange(clock.OffsetNs, 3_200_000, 3_300_000);
        Assert.InRange(clock.LargeResidualNs, 0, 100_000);
    }

    [Fact]
    public void TimesThatWereAlignedBefore_AreNotTouchedAgain()
    {
        (CaptureHistory history, _) = Analysed(Scenario(11, ("three", 0, 0), ("three", 1200, 40)));
        string again = Path.Combine(_directory, "again");
        using (var writer = new PcapNgWriter(File.Create(again)))
        using (IFrameSource source = CaptureFile.OpenAligned([Path.Combine(_directory, "capture")]))
        {
            int[] interfaces = [writer.AddInterface(LinkType.LeLinkLayerWithRadioHeader, "one"), writer.AddInterface(LinkType.LeLinkLayerWithRadioHeader, "two")];
            while (source.TryReadNext(out CapturedFrame frame))
                writer.Write(interfaces[frame.Receiver], frame.TimeNs, frame.Octets);
        }
        using IFrameSource read = CaptureFile.OpenAligned([again]);
        for (int row = 0; read.TryReadNext(out CapturedFrame frame); row++)
            Assert.Equal(history.Frames[row].TimeNs, frame.TimeNs);
        Assert.Equal((ClockBasis.Aligned, 0L), (read.Receivers[1].Clock!.Basis, read.Receivers[1].Clock!.OffsetNs));
    }

    [Fact]
    public void OneThatSharesNothing_KeepsItsTimes()
    {
        byte[] near = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(Scenario(6, ("three", 0, 0)))).Capture.ToArray();
        byte[] elsewhere = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(Scenario(7, ("three", 500, 0)))).Capture.ToArray();
        string[] paths = [Part(near, 0, "near"), Part(elsewhere, 0, "elsewhere")];
        using IFrameSource aligned = CaptureFile.OpenAligned(paths), plain = CaptureFile.OpenAll(paths);
        while (plain.TryReadNext(out CapturedFrame expected))
        {
            Assert.True(aligned.TryReadNext(out CapturedFrame frame));
            Assert.Equal((expected.TimeNs, expected.Receiver), (frame.TimeNs, frame.Receiver));
        }
        Assert.Equal(ClockBasis.NothingShared, aligned.Receivers[1].Clock!.Basis);
        Assert.NotNull(aligned.Receivers[1].Clock!.Says);
    }

    [Fact]
    public void AClockThatJumps_IsRefused_AndTheOthersAreUsed()
    {
        byte[] capture = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(Scenario(8, ("three", 0, 0), ("three", 300, 10), ("three", -40, -10)))).Capture.ToArray();
        string[] paths = [Part(capture, 0), Part(capture, 1, jumpNs: 400_000_000), Part(capture, 2)];
        using IFrameSource source = CaptureFile.OpenAligned(paths);
        while (source.TryReadNext(out _))
        {
        }
        Assert.Equal(ClockBasis.Refused, source.Receivers[1].Clock!.Basis);
        Assert.Contains("jumped", source.Receivers[1].Clock!.Says, StringComparison.Ordinal);
        Assert.Equal(ClockBasis.Aligned, source.Receivers[2].Clock!.Basis);
    }

    [Fact]
    public void AGivenOffset_IsUsedAsItIs_AndANameThatFitsNoneIsTold()
    {
        byte[] capture = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(Scenario(9, ("three", 0, 0), ("three", 1500, 0)))).Capture.ToArray();
        string path = Path.Combine(_directory, "both");
        File.WriteAllBytes(path, capture);
        var unknown = new List<string>();
        using IFrameSource source = CaptureFile.OpenAligned([path], [new ReceiverOffset("receiver 1", 1_000_000_000), new ReceiverOffset("attic", 1)], unknown);
        while (source.TryReadNext(out _))
        {
        }
        Assert.Equal(["attic"], unknown);
        Assert.Equal((ClockBasis.Given, 1_000_000_000), (source.Receivers[1].Clock!.Basis, source.Receivers[1].Clock!.OffsetNs));
    }

    /// <summary>A given offset has no drift: who can be compared with the reference is not compared with that receiver.</summary>
    [Fact]
    public void AGivenOffset_DoesNotSpoilTheOthers()
    {
        string path = Path.Combine(_directory, "three");
        File.WriteAllBytes(path, Composer.ComposeInMemory(Encoding.UTF8.GetBytes(Scenario(12, ("three", 0, 0), ("three", 1730, -48), ("hop", -1990, 47)))).Capture.ToArray());
        using IFrameSource source = CaptureFile.OpenAligned([path], [new ReceiverOffset("receiver 1", 1_730_000_000)], []);
        while (source.TryReadNext(out _))
        {
        }
        ReceiverClock third = source.Receivers[2].Clock!;
        Assert.Equal(ClockBasis.Aligned, third.Basis);
        Assert.InRange(third.DriftPpm, 46.8, 47.2);
    }

    [Fact]
    public void OneReceiver_IsLeftAlone()
    {
        byte[] capture = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(Scenario(10, ("hop", 250, 30)))).Capture.ToArray();
        string path = Path.Combine(_directory, "one");
        File.WriteAllBytes(path, capture);
        using IFrameSource source = CaptureFile.OpenAligned([path]), plain = CaptureFile.Open(path);
        while (plain.TryReadNext(out CapturedFrame expected))
        {
            Assert.True(source.TryReadNext(out CapturedFrame frame));
            Assert.Equal(expected.TimeNs, frame.TimeNs);
        }
        Assert.Null(source.Receivers[0].Clock);
    }

    private (CaptureHistory History, JsonElement Truth) Analysed(string scenario)
    {
        ComposedFiles files = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(scenario));
        string path = Path.Combine(_directory, "capture");
        File.WriteAllBytes(path, files.Capture.ToArray());
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = NetworkDescriptionReader.Read(files.Description, "network.json") });
        using (IFrameSource source = CaptureFile.OpenAligned([path]))
            analysis.Read(source);
        return (analysis.Complete(), JsonDocument.Parse(files.Truth).RootElement);
    }

    /// <summary>The frames of one receiver as a file of its own; its clock jumps in the middle of the time where asked for.</summary>
    private string Part(byte[] capture, int receiver, string name = "part", long jumpNs = 0)
    {
        string path = Path.Combine(_directory, name + receiver.ToString(CultureInfo.InvariantCulture));
        using IFrameSource source = CaptureFile.Open(new MemoryStream(capture), "all");
        using var writer = new PcapWriter(File.Create(path), LinkType.LeLinkLayerWithRadioHeader, nanoseconds: true);
        long first = long.MaxValue;
        while (source.TryReadNext(out CapturedFrame frame))
        {
            if (frame.Receiver != receiver)
                continue;
            first = Math.Min(first, frame.TimeNs);
            writer.Write(frame.TimeNs + (frame.TimeNs - first > 100_000_000_000 ? jumpNs : 0), frame.Octets);
        }
        return path;
    }

    private static Matching Compare(CaptureHistory history, JsonElement truth)
    {
        var sent = truth.GetProperty("floods").EnumerateArray().ToLookup(flood => (flood.GetProperty("src").GetString(), flood.GetProperty("seq").GetUInt32()));
        var matching = new Matching(0, 0, 0);
        for (int row = 0; row < history.Floods.Count; row++)
        {
            FloodCopy[] copies = history.CopiesOf(row).ToArray();
            int[] said = history.TransmissionsOf(row);
            List<JsonElement> floods = [.. sent[(history.Floods[row].Src.ToString(), history.Floods[row].Seq)]];
            (int Flood, int Event, int Channel)[] really = [.. copies.Select(copy => EventOf(history, floods, copy))];
            for (int one = 0; one < copies.Length; one++)
            {
                for (int other = 0; other < one; other++)
                {
                    bool same = really[one] == really[other], merged = said[one] == said[other];
                    matching += new Matching(same && merged ? 1 : 0, merged && !same ? 1 : 0, same && !merged ? 1 : 0);
                }
            }
        }
        return matching;
    }

    /// <summary>The event of the truth that a receiver heard on this channel at this time; a mesh packet takes about 0.32 ms, and the next channel follows 0.57 ms later.</summary>
    private static (int Flood, int Event, int Channel) EventOf(CaptureHistory history, List<JsonElement> floods, FloodCopy copy)
    {
        FrameRow frame = history.Frames[copy.Frame];
        string heard = FormattableString.Invariant($"{frame.Receiver}/{frame.Channel}");
        long beganNs = frame.TimeNs - 320_000 - ((frame.Channel!.Value - 37) * 570_000L);
        (int Flood, int Event, int Channel) best = (-1, -1, -1);
        long bestNs = long.MaxValue;
        for (int flood = 0; flood < floods.Count; flood++)
        {
            long timeNs = ComposedNetwork.NsOf(floods[flood].GetProperty("time").GetString()!);
            int number = 0;
            foreach (JsonElement one in floods[flood].GetProperty("events").EnumerateArray())
            {
                long apart = Math.Abs(beganNs - timeNs - (one.GetProperty("us").GetInt64() * 1000));
                if (apart < bestNs && one.GetProperty("ttl").GetInt32() == copy.Ttl && one.TryGetProperty("heard", out JsonElement by)
                    && by.EnumerateArray().Any(place => place.GetString() == heard))
                    (best, bestNs) = ((flood, number, frame.Channel.Value), apart);
                number++;
            }
        }
        return best;
    }

    private static void AssertNeverMergedAcrossOctets(CaptureHistory history)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            FloodCopy[] copies = history.CopiesOf(row).ToArray();
            int[] said = history.TransmissionsOf(row);
            foreach (IGrouping<int, int> one in Enumerable.Range(0, copies.Length).GroupBy(at => said[at]))
            {
                FrameRow[] frames = [.. one.Select(at => history.Frames[copies[at].Frame])];
                Assert.Single(frames.Select(frame => (frame.Content, frame.Advertiser, frame.PduType, frame.Channel)).Distinct());
                Assert.Equal(frames.Length, frames.Select(frame => frame.Receiver).Distinct().Count());
            }
        }
    }

    private static void AssertInOrder(CaptureHistory history)
    {
        for (int row = 1; row < history.Frames.Count; row++)
            Assert.True(history.Frames[row].TimeNs >= history.Frames[row - 1].TimeNs - 100_000);
    }

    private static string Scenario(int seed, params (string Channels, int OffsetMs, int Ppm)[] receivers)
    {
        string places = string.Join(", ", receivers.Select((receiver, at) => FormattableString.Invariant(
            $$"""{ "name": "receiver {{at}}", "place": [{{3 + (4 * at)}}, 3], "linkType": 256, "channels": {{(receiver.Channels.Length == 2 ? receiver.Channels : $"\"{receiver.Channels}\"")}}, "clockOffsetMs": {{receiver.OffsetMs}}, "clockDriftPpm": {{receiver.Ppm}} }""")));
        string presses = string.Join(", ", Enumerable.Range(0, 60).Select(at => FormattableString.Invariant(
            $$"""{ "atS": {{2 + (3 * at)}}, "press": "entrance panel", "asks": "{{(at % 2 == 0 ? "on" : "off")}}", "acknowledged": true }""")));
        return $$"""
            { "scenario": 1, "name": "receivers", "says": "Several receivers in the reading room.", "seed": {{seed}}, "start": "2026-03-02T18:00:00Z", "lastsS": 200,
              "network": { "name": "Library", "netKeys": [{ "index": 0, "name": "Library" }], "appKeys": [{ "index": 0, "name": "Lighting", "netKey": 0 }],
                "groups": [{ "name": "Reading room", "address": "C000" }] },
              "nodes": [
                { "name": "entrance panel", "place": [0, 0], "elements": [{ "models": ["1001"], "publish": { "to": "Reading room", "appKey": 0 } }] },
                { "name": "reading lamp 1", "place": [6, 2], "relay": true, "elements": [{ "models": ["1000"], "subscribe": ["Reading room"] }] },
                { "name": "reading lamp 2", "place": [9, 5], "relay": true, "elements": [{ "models": ["1000"], "subscribe": ["Reading room"] }] }],
              "receivers": [{{places}}],
              "noise": [{ "kind": "phone", "place": [4, 4], "count": 3, "intervalMs": 300, "fromS": 0, "untilS": 200 }],
              "schedule": [{{presses}}] }
            """;
    }

    /// <summary>Pairs of copies.</summary>
    private readonly record struct Matching(int Right, int Wrong, int Missed)
    {
        public static Matching operator +(Matching one, Matching other) => new(one.Right + other.Right, one.Wrong + other.Wrong, one.Missed + other.Missed);
    }
}
