using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>Single frames read again by the offset of their record.</summary>
public sealed class FrameRecallTests : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("captures").FullName;

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void GivesEachFrameInAnyOrder(string name)
    {
        byte[] octets = SampleCaptures.Get(name).Octets;
        foreach (byte[] given in new[] { octets, SampleCaptures.Gzip(octets), octets[..^5] })
        {
            string path = Written(given);
            using IFrameSource source = CaptureFile.Open(path, firstReceiver: 5);
            ReadFrame[] frames = [.. ReadCapture.Of(source).Frames];
            int[] order = [.. Enumerable.Range(0, frames.Length), .. Enumerable.Range(0, frames.Length).Reverse()];
            for (int first = 0; first < frames.Length; first++)
            {
                using FrameRecall recall = FrameRecall.Open(path, firstReceiver: 5);
                foreach (int i in order.Prepend(first))
                {
                    Assert.True(recall.TryRead(frames[i].FileOffset, out CapturedFrame frame), $"frame {i} after {first}");
                    Assert.Equal(frames[i], ReadFrame.Of(frame));
                }
            }
        }
    }

    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void WhereNoFrameBegins_NothingIsGivenAndNothingBreaks(string name)
    {
        byte[] octets = SampleCaptures.Get(name).Octets;
        string path = Written(octets);
        using FrameRecall recall = FrameRecall.Open(path);
        ReadFrame[] frames = [.. ReadCapture.Of(octets).Frames];
        for (long offset = octets.Length + 10; offset >= 0; offset--)
        {
            if (recall.TryRead(offset, out CapturedFrame frame))
                Assert.Equal(offset, frame.FileOffset);
            else
                Assert.DoesNotContain(frames, f => f.FileOffset == offset);
        }

        foreach (ReadFrame expected in frames)
        {
            Assert.True(recall.TryRead(expected.FileOffset, out CapturedFrame frame));
            Assert.Equal(expected, ReadFrame.Of(frame));
        }
    }

    [Fact]
    public void StandardInputCannotBeReadAgain() => Assert.Throws<ArgumentException>(() => FrameRecall.Open("-"));

    [Fact]
    public void FileThatIsGone_IsTold() =>
        Assert.Equal(CaptureFault.Missing, Assert.Throws<CaptureFormatException>(() => FrameRecall.Open(Path.Combine(_directory, "gone"))).Fault);

    private string Written(byte[] octets)
    {
        string path = Path.Combine(_directory, Guid.NewGuid().ToString("N"));
        File.WriteAllBytes(path, octets);
        return path;
    }
}
