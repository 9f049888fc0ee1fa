using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Tests.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Live;

/// <summary>What is remembered of an input.</summary>
public sealed class FrameLogTests
{
    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void GoingThroughIt_IsReadingTheFile(string name)
    {
        byte[] octets = SampleCaptures.Get(name).Octets;
        var log = new FrameLog("test");
        using (IFrameSource source = CaptureFile.Open(new MemoryStream(octets), "test"))
        {
            while (source.TryReadNext(out CapturedFrame frame))
            {
                for (int known = log.Receivers.Count(); known < source.Receivers.Count; known++)
                    log.Describe(source.Receivers[known]);
                log.Add(in frame);
            }
            foreach (ReceiverDescription receiver in source.Receivers)
                log.Describe(receiver);
        }
        ReadCapture expected = ReadCapture.Of(octets);
        for (int time = 0; time < 2; time++)
        {
            using IFrameSource replay = log.Open();
            ReadCapture read = ReadCapture.Of(replay);
            Assert.Equal(expected.Frames, read.Frames);
            Assert.Equal(expected.Receivers, read.Receivers);
        }
    }

    [Fact]
    public void Receivers_ComeToBeKnownAsInTheFile()
    {
        var log = new FrameLog("test");
        log.Describe(new ReceiverDescription(0, "test", "one", LinkType.LeLinkLayer));
        log.Add(Frame(0, 1));
        log.Describe(new ReceiverDescription(1, "test", "two", LinkType.LeLinkLayer));
        log.Add(Frame(1, 2));
        using IFrameSource replay = log.Open();
        Assert.True(replay.TryReadNext(out _));
        Assert.Single(replay.Receivers);
        Assert.True(replay.TryReadNext(out _));
        Assert.Equal(2, replay.Receivers.Count);
    }

    [Fact]
    public void WhatIsDropped_LeavesMemory()
    {
        var log = new FrameLog("test");
        log.Describe(new ReceiverDescription(0, "test", null, LinkType.LeLinkLayer));
        for (int at = 0; at < 100_000; at++)
        {
            log.Add(Frame(0, at));
            if (log.Count > 10_000)
                log.Drop(log.Count - 8_000);
            Assert.InRange(log.Capacity, log.Count, 10_000 + (2 * FrameLog.ChunkFrames));
        }
        Assert.Equal(100_000, log.Count + log.Dropped);
        using IFrameSource replay = log.Open();
        Assert.True(replay.TryReadNext(out CapturedFrame first));
        Assert.Equal(log.Dropped, first.TimeNs);
    }

    [Fact]
    public void WhatIsOld_IsToldByEachReceiversOwnClock()
    {
        var log = new FrameLog("test");
        log.Describe(new ReceiverDescription(0, "test", "at 1970", LinkType.LeLinkLayer));
        log.Describe(new ReceiverDescription(1, "test", "on time", LinkType.LeLinkLayer));
        for (int at = 0; at < 100; at++)
        {
            log.Add(Frame(0, at));
            log.Add(Frame(1, 1_000_000 + at));
        }
        Assert.Equal(99, log.LengthNs);
        log.DropOlderThan(9);
        Assert.Equal((20, 9L), (log.Count, log.LengthNs));
    }

    [Fact]
    public void AFrameWithoutTime_GoesWithTheOneBehindIt()
    {
        var log = new FrameLog("test");
        log.Describe(new ReceiverDescription(0, "test", null, LinkType.LeLinkLayer));
        log.Add(Frame(0, CapturedFrame.NoTime));
        log.Add(Frame(0, 1));
        log.Add(Frame(0, CapturedFrame.NoTime));
        log.Add(Frame(0, 100));
        log.Add(Frame(0, CapturedFrame.NoTime));
        log.DropOlderThan(10);
        Assert.Equal(3, log.Count);
        log.DropOlderThan(0);
        Assert.Equal(3, log.Count);
    }

    private static CapturedFrame Frame(int receiver, long timeNs) => new() { Receiver = receiver, LinkType = LinkType.LeLinkLayer, TimeNs = timeNs, FileOffset = timeNs, OriginalLength = 3, Octets = (byte[])[1, 2, 3] };
}
