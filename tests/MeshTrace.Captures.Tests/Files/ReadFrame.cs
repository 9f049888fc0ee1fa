using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>What a reader gave for one frame, kept for comparison.</summary>
internal sealed record ReadFrame(int Receiver, int LinkType, long TimeNs, int OriginalLength, long FileOffset, string Octets, HciKind Hci, bool CrcBad, bool IsCut)
{
    public static ReadFrame Of(in CapturedFrame frame) => new(
        frame.Receiver, frame.LinkType.Number, frame.TimeNs, frame.OriginalLength, frame.FileOffset, Convert.ToHexString(frame.Octets), frame.Hci,
        frame.MarkedCrcBad, frame.IsCut);
}

/// <summary>All that a reader gave for one file.</summary>
internal sealed record ReadCapture(IReadOnlyList<ReadFrame> Frames, IReadOnlyList<ReceiverDescription> Receivers, CaptureDamage? Damage, long Position)
{
    public static ReadCapture Of(byte[] file, string name = "test")
    {
        using IFrameSource source = CaptureFile.Open(new MemoryStream(file), name);
        return Of(source);
    }

    public static ReadCapture Of(IFrameSource source)
    {
        var frames = new List<ReadFrame>();
        while (source.TryReadNext(out CapturedFrame frame))
            frames.Add(ReadFrame.Of(frame));
        Assert.False(source.TryReadNext(out _), "after the end there is nothing more");
        return new ReadCapture(frames, [.. source.Receivers], source.Damage, source.Position);
    }
}
