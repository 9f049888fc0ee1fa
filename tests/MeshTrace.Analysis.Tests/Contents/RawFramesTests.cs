using MeshTrace.Analysis.Contents;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Tests.Contents;

public class RawFramesTests
{
    /// <summary>Every member of every frame comes back, also from a store that was used before, and though it grew meanwhile.</summary>
    [Fact]
    public void Frames_ComeBackAsTheyWere()
    {
        var raw = new RawFrames();
        for (int round = 0; round < 2; round++)
        {
            raw.Clear();
            var random = new Random(round);
            byte[][] octets = [.. Enumerable.Range(0, 3_000).Select(_ => new byte[random.Next(300)])];
            for (int number = 0; number < octets.Length; number++)
            {
                random.NextBytes(octets[number]);
                raw.Add(FrameOf(number, octets[number]));
            }
            Assert.Equal(octets.Length, raw.Count);
            for (int number = 0; number < octets.Length; number++)
                AssertSame(FrameOf(number, octets[number]), raw[number]);
        }
    }

    private static CapturedFrame FrameOf(int number, byte[] octets) => new()
    {
        Receiver = number % 5, LinkType = number % 2 == 0 ? LinkType.LeLinkLayer : LinkType.TextLog, TimeNs = number - 100, OriginalLength = octets.Length + (number % 3),
        FileOffset = (1L << 40) + number, Octets = octets, Hci = (HciKind)(number % 6), MarkedCrcBad = number % 7 == 0,
    };

    private static void AssertSame(in CapturedFrame expected, in CapturedFrame frame)
    {
        Assert.Equal((expected.Receiver, expected.LinkType, expected.TimeNs, expected.OriginalLength, expected.FileOffset, expected.Hci, expected.MarkedCrcBad),
            (frame.Receiver, frame.LinkType, frame.TimeNs, frame.OriginalLength, frame.FileOffset, frame.Hci, frame.MarkedCrcBad));
        Assert.True(expected.Octets.SequenceEqual(frame.Octets));
    }
}
