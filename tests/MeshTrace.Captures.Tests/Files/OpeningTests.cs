using System.Text;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>What cannot be opened is told apart, with words for the user; what can be opened is recognised by content.</summary>
public sealed class OpeningTests : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("captures").FullName;

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [Fact]
    public void Missing() => AssertRefused(CaptureFault.Missing, Path.Combine(_directory, "none.pcap"), "there is no file");

    [Fact]
    public void MissingDirectory() => AssertRefused(CaptureFault.Missing, Path.Combine(_directory, "none", "none.pcap"), "there is no file");

    [Fact]
    public void IsADirectory() => AssertRefused(CaptureFault.Directory, _directory, "is a directory");

    [Fact]
    public void Empty() => AssertRefused(CaptureFault.Empty, Written([]), "is empty");

    [SkippableFact]
    public void WithoutPermission()
    {
        Skip.If(OperatingSystem.IsWindows(), "file modes are those of Unix");
        Skip.If(Environment.IsPrivilegedProcess, "this user may read everything; DeviceError tests the same path for all users");
        string path = Written([1, 2, 3, 4]);
#pragma warning disable CA1416 // skipped on the platform that has no file modes
        File.SetUnixFileMode(path, UnixFileMode.None);
#pragma warning restore CA1416
        AssertRefused(CaptureFault.Unreadable, path, "permission");
    }

    [Fact]
    public void DeviceError()
    {
        foreach (Exception failure in new Exception[] { new IOException("the device does not answer."), new UnauthorizedAccessException() })
        {
            var stream = new TestStream([], failAt: 0, failure: failure);
            var refusal = Assert.Throws<CaptureFormatException>(() => CaptureFile.Open(stream, "card"));
            Assert.Equal(CaptureFault.Unreadable, refusal.Fault);
            Assert.Same(failure, refusal.InnerException);
            Assert.True(stream.Disposed);
        }
    }

    [Theory]
    [InlineData("{\"meshName\": \"library\"}", CaptureFault.Text)]
    [InlineData("# notes of the evening\n21:04 panel pressed\n", CaptureFault.Text)]
    [InlineData("é", CaptureFault.Text)]
    [InlineData("PK\u0003\u0004rest", CaptureFault.PackedOtherwise)]
    [InlineData("BZh91AY", CaptureFault.PackedOtherwise)]
    [InlineData("\u0000\u0001\u0002\u0003\u0004", CaptureFault.NotACapture)]
    [InlineData("btsnoop", CaptureFault.Text)]
    [InlineData("btsnoop\0", CaptureFault.BadHeader)]
    public void NotACapture(string content, CaptureFault fault) => AssertRefused(fault, Written(Encoding.UTF8.GetBytes(content)), "'");

    [Theory]
    [InlineData("FD377A585A000004", CaptureFault.PackedOtherwise, 0)]
    [InlineData("28B52FFD00000000", CaptureFault.PackedOtherwise, 0)]
    [InlineData("D4C3B2A1", CaptureFault.BadHeader, 4)]
    [InlineData("D4C3B2A1 03000400 00000000 00000000 FFFF0000 FB000000", CaptureFault.UnsupportedVersion, 4)]
    [InlineData("A1B2C3D4 00010004 00000000 00000000 0000FFFF 000000FB", CaptureFault.UnsupportedVersion, 4)]
    [InlineData("0A0D0D0A", CaptureFault.BadHeader, 4)]
    [InlineData("0A0D0D0A 1C000000 00000000 01000000 FFFFFFFFFFFFFFFF 1C000000", CaptureFault.BadHeader, 8)]
    [InlineData("0A0D0D0A 18000000 4D3C2B1A 01000000 FFFFFFFFFFFFFFFF 18000000", CaptureFault.BadHeader, 4)]
    [InlineData("0A0D0D0A 1D000000 4D3C2B1A 01000000 FFFFFFFFFFFFFFFF 1D000000", CaptureFault.BadHeader, 4)]
    [InlineData("0A0D0D0A 1C000000 4D3C2B1A 02000000 FFFFFFFFFFFFFFFF 1C000000", CaptureFault.UnsupportedVersion, 12)]
    [InlineData("0A0D0D0A 1C000000 4D3C2B1A 01000100 FFFFFFFFFFFFFFFF 1C000000", CaptureFault.UnsupportedVersion, 12)]
    [InlineData("6274736E6F6F7000 00000002 000003EA", CaptureFault.UnsupportedVersion, 8)]
    [InlineData("6274736E6F6F7000 00000001 000003EB", CaptureFault.UnsupportedDatalink, 12)]
    [InlineData("1F8B", CaptureFault.PackingDamaged, 0)]
    [InlineData("1F8B0800000000000003FFFFFFFFFFFFFFFF", CaptureFault.PackingDamaged, 0)]
    public void BadBeginning_IsToldWithItsOffset(string hex, CaptureFault fault, long offset)
    {
        var stream = new TestStream(Hex.Octets(hex));
        var refusal = Assert.Throws<CaptureFormatException>(() => CaptureFile.Open(stream, "evening"));
        Assert.Equal((fault, offset, "evening"), (refusal.Fault, refusal.Offset, refusal.File));
        Assert.Contains("'evening'", refusal.Message, StringComparison.Ordinal);
        Assert.True(stream.Disposed, "a stream that was handed over is not left open");
    }

    [Fact]
    public void GzipOfNothing_IsEmpty() => AssertRefused(CaptureFault.Empty, Written(SampleCaptures.Gzip([])), "is empty");

    [Fact]
    public void StandardInputIsNamedInWords()
    {
        var refusal = Assert.Throws<CaptureFormatException>(() => CaptureFile.Open(new TestStream([]), "-"));
        Assert.StartsWith("standard input is empty", refusal.Message, StringComparison.Ordinal);
        Assert.Equal("-", refusal.File);
    }

    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void RecognisedByContent_FromFilesAndPipes(string name)
    {
        byte[] octets = SampleCaptures.Get(name).Octets;
        ReadCapture whole = ReadCapture.Of(octets);
        foreach (byte[] given in new[] { octets, SampleCaptures.Gzip(octets) })
        {
            foreach (int mostInOneCall in new[] { 1, 7, int.MaxValue })
            {
                using IFrameSource pipe = CaptureFile.Open(new TestStream(given, mostInOneCall), "test");
                Assert.Null(pipe.Length);
                Assert.Equivalent(whole, ReadCapture.Of(pipe), strict: true);
            }

            using IFrameSource file = CaptureFile.Open(Written(given));
            Assert.Equal(ReferenceEquals(given, octets) ? octets.Length : null, file.Length);
            Assert.Equal(whole.Frames, ReadCapture.Of(file).Frames);
        }
    }

    [Fact]
    public void SeveralGzipMembers_AreOneCapture()
    {
        byte[] octets = SampleCaptures.All[0].Octets;
        byte[] packed = [.. SampleCaptures.Gzip(octets.AsSpan(0, 30)), .. SampleCaptures.Gzip(octets.AsSpan(30))];
        Assert.Equivalent(ReadCapture.Of(octets), ReadCapture.Of(packed), strict: true);
    }

    [Fact]
    public void WrongCheckValueOfGzip_IsDamageAfterAllFrames()
    {
        using var stream = new MemoryStream();
        using (var writer = new PcapWriter(stream, LinkType.LeLinkLayer, leaveOpen: true))
        {
            for (int i = 0; i < 1000; i++)
                writer.Write(i, [1, 2, 3, 4]);
        }

        byte[] packed = SampleCaptures.Gzip(stream.ToArray());
        packed[^5] ^= 1;
        ReadCapture read = ReadCapture.Of(packed);
        Assert.Contains("gzip packing is damaged", read.Damage?.Says, StringComparison.Ordinal);
        Assert.InRange(read.Frames.Count, 1000 - (2048 / 20), 1000);     // the unpacker gives up with the call in which it finds out
    }

    [Fact]
    public void StreamIsReadFromWhereItStands()
    {
        byte[] octets = SampleCaptures.All[4].Octets;
        var stream = new MemoryStream([9, 9, 9, .. octets]) { Position = 3 };
        using IFrameSource source = CaptureFile.Open(stream, "test");
        Assert.Equal(octets.Length, source.Length);
        Assert.Equivalent(ReadCapture.Of(octets), ReadCapture.Of(source), strict: true);
    }

    /// <summary>A recorder that writes into a pipe: a frame is given when its last octet is there, without waiting for more.</summary>
    [Theory, InlineData(0, 45), InlineData(6, 16 + 27)]
    public void FramesOfAPipe_AreGivenAsTheyArrive(int sample, int arrived)
    {
        var pipe = new TestStream(SampleCaptures.All[sample].Octets, failAt: arrived, failure: new InvalidOperationException("the reader waits"));
        using IFrameSource source = CaptureFile.Open(pipe, "test");
        Assert.True(source.TryReadNext(out CapturedFrame frame));
        Assert.False(frame.IsCut);
        Assert.Equal(arrived, source.Position);
    }

    [Fact]
    public void FilesBeyond4GiB()
    {
        const uint skipped = 0xFFFF_FFF0;
        var b = new PcapNgBytes(false).Section(false).Interface(251, 0);
        long begin = b.Length;
        b.Raw(b.U32(0x99), b.U32(skipped));
        byte[] behind = new PcapNgBytes(false).Enhanced(0, 7, "AABB").ToArray();
        string path = Written(b.ToArray());
        using (FileStream stream = File.OpenWrite(path))    // sparse: takes no room
        {
            stream.Position = begin + skipped - 4;
            stream.Write([.. b.U32(skipped), .. behind]);
        }

        using IFrameSource source = CaptureFile.Open(path);
        ReadFrame frame = Assert.Single(ReadCapture.Of(source).Frames);
        Assert.Equal(("AABB", begin + skipped), (frame.Octets, frame.FileOffset));
        Assert.Null(source.Damage);
        Assert.Equal(source.Length, source.Position);
        using FrameRecall recall = FrameRecall.Open(path);
        Assert.True(recall.TryRead(frame.FileOffset, out CapturedFrame again));
        Assert.Equal(frame, ReadFrame.Of(again));
        Assert.True(recall.TryRead(frame.FileOffset, out _));
    }

    [Fact]
    public void ReceiversAreNumberedFromTheFirst()
    {
        using IFrameSource source = CaptureFile.Open(new MemoryStream(SampleCaptures.All[4].Octets), "test", firstReceiver: 10);
        ReadCapture read = ReadCapture.Of(source);
        Assert.Equal([10, 11, 12], read.Receivers.Select(r => r.Index));
        Assert.Equal([10, 10, 11, 12], read.Frames.Select(f => f.Receiver));
    }

    private string Written(byte[] octets)
    {
        string path = Path.Combine(_directory, Guid.NewGuid().ToString("N"));
        File.WriteAllBytes(path, octets);
        return path;
    }

    private static void AssertRefused(CaptureFault fault, string path, string says)
    {
        var refusal = Assert.Throws<CaptureFormatException>(() => CaptureFile.Open(path));
        Assert.Equal((fault, path), (refusal.Fault, refusal.File));
        Assert.Contains(says, refusal.Message, StringComparison.Ordinal);
        Assert.Contains(path, refusal.Message, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', refusal.Message);
    }
}
