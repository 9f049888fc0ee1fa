using System.Text;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Tests.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Live;

/// <summary>Formats read while they grow: whatever pieces the octets come in, and without asking for what is not needed.</summary>
public sealed class GrowingStreamTests
{
    private const string Log = "the first line says nothing\n2026-03-02 18:00:01.120 Notification 0x2ADC: 03 01 01 00 01 00 00 00 00 00 00 00 00\n\n[  12.345678] TX network pdu 68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df\n";

    public static TheoryData<string> Names { get; } = [.. SampleCaptures.All.Select(sample => sample.Name), "text", "gzip"];

    private static byte[] Octets(string name) => name switch
    {
        "text" => Encoding.UTF8.GetBytes(Log),
        "gzip" => SampleCaptures.Gzip(SampleCaptures.All[0].Octets),
        _ => SampleCaptures.Get(name).Octets,
    };

    [Theory, MemberData(nameof(Names))]
    public void CutAtEveryOctet_ItGivesTheSameFrames(string name)
    {
        byte[] octets = Octets(name);
        ReadCapture whole = ReadCapture.Of(octets);
        Assert.NotEmpty(whole.Frames);
        for (int cut = 1; cut < octets.Length; cut++)
        {
            using CaptureFileSource source = CaptureFile.OpenGrowing(new TestStream(octets, cut: cut), "test");
            ReadCapture read = ReadCapture.Of(source);
            Assert.Equal(whole.Frames, read.Frames);
            Assert.Null(read.Damage);
        }
    }

    [Theory, MemberData(nameof(Names))]
    public void OneOctetAtATime_ItGivesTheSameFrames(string name)
    {
        using CaptureFileSource source = CaptureFile.OpenGrowing(new TestStream(Octets(name), mostInOneCall: 1), "test");
        Assert.Equal(ReadCapture.Of(Octets(name)).Frames, ReadCapture.Of(source).Frames);
    }

    /// <summary>A packer gives nothing before it is flushed, so gzip is not among them.</summary>
    public static TheoryData<string> Plain { get; } = [.. SampleCaptures.All.Select(sample => sample.Name), "text"];

    [Theory, MemberData(nameof(Plain))]
    public void AFrame_IsGivenOnceItsLastOctetIsThere(string name)
    {
        byte[] octets = Octets(name);
        ReadCapture whole = ReadCapture.Of(octets);
        int most = 0;
        for (int there = 1; there <= octets.Length; there++)
        {
            // What a file that ends here gives without damage, one that will go on must give before it is asked for more.
            int expected = WholeFrames(octets[..there]);
            int given = 0;
            try
            {
                using CaptureFileSource source = CaptureFile.OpenGrowing(new TestStream(octets, failAt: there, failure: new StillGrowingException()), "test");
                while (source.TryReadNext(out CapturedFrame frame))
                {
                    Assert.Equal(whole.Frames[given], ReadFrame.Of(in frame));
                    given++;
                }
            }
            catch (StillGrowingException)
            {
                // asked for octets that are not there yet
            }
            Assert.True(given >= expected, $"{given} of {expected} frames at octet {there}");
            most = Math.Max(most, given);
        }
        Assert.Equal(whole.Frames.Count, most);
    }

    [Fact]
    public void AGzipFlushedAfterEachFrame_GivesThem()
    {
        byte[] octets = SampleCaptures.All[0].Octets;
        using var packed = new MemoryStream();
        using var packer = new System.IO.Compression.GZipStream(packed, System.IO.Compression.CompressionLevel.Fastest, leaveOpen: true);
        packer.Write(octets);
        packer.Flush();
        int given = 0;
        using CaptureFileSource source = CaptureFile.OpenGrowing(new TestStream(packed.ToArray(), failAt: (int)packed.Length, failure: new StillGrowingException()), "test");
        try
        {
            while (source.TryReadNext(out _))
                given++;
        }
        catch (StillGrowingException)
        {
            // the packing goes on
        }
        Assert.Equal(ReadCapture.Of(octets).Frames.Count, given);
    }

    private static int WholeFrames(byte[] octets)
    {
        // A line counts with its end; before the first one with octets nobody knows that this is a log.
        if (octets.AsSpan().StartsWith("the first"u8[..Math.Min(octets.Length, 9)]))
            return octets.AsSpan().Count((byte)'\n') switch { < 2 => 0, < 4 => 2, _ => 3 };
        try
        {
            ReadCapture read = ReadCapture.Of(octets);
            return read.Frames.Count(frame => !frame.IsCut) - (read.Damage is null ? 0 : CutAtItsEnd(read));
        }
        catch (CaptureFormatException)
        {
            return 0;
        }
    }

    /// <summary>A block may be cut behind the octets of its frame: the frame is then given with damage, but a growing file waits for the block's end.</summary>
    private static int CutAtItsEnd(ReadCapture read) => read.Frames is [.., { IsCut: false } last] && read.Damage!.Offset == last.FileOffset ? 1 : 0;

    private sealed class StillGrowingException : Exception;
}
