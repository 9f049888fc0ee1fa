using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Tests.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Live;

/// <summary>The file that everything received is saved in.</summary>
public sealed class KeptCaptureTests
{
    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void WhatIsSaved_IsWhatWasReceived(string name)
    {
        byte[] octets = SampleCaptures.Get(name).Octets;
        using var file = new Disk();
        KeptCapture kept = Keep(file, octets);
        kept.Finish(ReadCapture.Of(octets).Receivers, SampleCaptures.Time);
        ReadCapture expected = ReadCapture.Of(octets), read = ReadCapture.Of(file.ToArray());
        Assert.Null(read.Damage);
        Assert.Equal(expected.Frames.Count - kept.NotKept, read.Frames.Count);
        Assert.Equal(expected.Frames.Where(frame => frame.TimeNs != CapturedFrame.NoTime || frame.Receiver == 0).Select(frame => (frame.TimeNs, frame.Receiver, frame.CrcBad)),
            read.Frames.Select(frame => (frame.TimeNs, frame.Receiver, frame.CrcBad)));
        Assert.Equal(expected.Receivers.Select(receiver => (receiver.Interface, receiver.ReportedDropped)), read.Receivers.Select(receiver => (receiver.Interface, receiver.ReportedDropped)));
    }

    [Fact]
    public void AfterEachFlush_TheFileIsWhole()
    {
        byte[] octets = SampleCaptures.Get("pcap, little-endian, nanoseconds").Octets;
        using var file = new Disk();
        using KeptCapture kept = KeptCapture.Into(file, "kept");
        kept.Describe(ReadCapture.Of(octets).Receivers[0]);
        using IFrameSource source = CaptureFile.Open(new MemoryStream(octets), "test");
        for (int frames = 1; source.TryReadNext(out CapturedFrame frame); frames++)
        {
            kept.Take(in frame);
            kept.Flush();
            ReadCapture read = ReadCapture.Of(file.ToArray());
            Assert.Equal(frames, read.Frames.Count);
            Assert.Null(read.Damage);
            Assert.Equal(frames, kept.Kept);
        }
    }

    [Theory]
    [InlineData(1), InlineData(50), InlineData(100), InlineData(120), InlineData(150)]
    public void AFullDisk_LeavesAWholeFile_AndIsTold(int room)
    {
        byte[] octets = SampleCaptures.Get("pcap, little-endian, nanoseconds").Octets;
        using var file = new Disk(room);
        using KeptCapture kept = KeptCapture.Into(file, "kept");
        kept.Describe(ReadCapture.Of(octets).Receivers[0]);
        using IFrameSource source = CaptureFile.Open(new MemoryStream(octets), "test");
        while (source.TryReadNext(out CapturedFrame frame))
        {
            kept.Take(in frame);
            kept.Flush();
        }
        Assert.Contains("no space", kept.Problem, StringComparison.Ordinal);
        Assert.InRange(file.ToArray().Length, 0, room);
        if (file.ToArray().Length == 0)
            return;
        ReadCapture read = ReadCapture.Of(file.ToArray());
        Assert.Null(read.Damage);
        Assert.Equal(kept.Kept, read.Frames.Count);
    }

    [Fact]
    public void LinesOfALog_AreSavedAsTheyAre()
    {
        using var file = new Disk();
        using (KeptCapture kept = KeptCapture.Into(file, "kept"))
        {
            kept.Describe(new ReceiverDescription(0, "log", null, LinkType.TextLog));
            kept.Take("18:00:01 one\n"u8);
            kept.Take("18:00:02 two\n"u8);
        }
        Assert.Equal("18:00:01 one\n18:00:02 two\n"u8.ToArray(), file.ToArray());
    }

    private static KeptCapture Keep(Stream file, byte[] octets)
    {
        KeptCapture kept = KeptCapture.Into(file, "kept", "test");
        using IFrameSource source = CaptureFile.Open(new MemoryStream(octets), "test");
        int known = 0;
        while (source.TryReadNext(out CapturedFrame frame))
        {
            for (; known < source.Receivers.Count; known++)
                kept.Describe(source.Receivers[known]);
            kept.Take(in frame);
        }
        for (; known < source.Receivers.Count; known++)
            kept.Describe(source.Receivers[known]);
        return kept;
    }

    /// <summary>A file on a disk with so much room; half of what does not fit is written, as a file system may do.</summary>
    private sealed class Disk(int room = int.MaxValue) : MemoryStream
    {
        public override void Write(ReadOnlySpan<byte> buffer)
        {
            int fits = (int)Math.Min(buffer.Length, room - Length);
            base.Write(buffer[..fits]);
            if (fits < buffer.Length)
                throw new IOException("no space left on the device");
        }
    }
}
