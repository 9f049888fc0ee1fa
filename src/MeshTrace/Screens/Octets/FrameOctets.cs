using MeshTrace.Protocol.Link;

namespace MeshTrace.Screens.Octets;

/// <summary>A frame read again from its file, kept apart from it.</summary>
internal sealed record FrameOctets(int Frame, LinkType LinkType, long TimeNs, int OriginalLength, HciKind Hci, bool MarkedCrcBad, byte[] Octets)
{
    public static FrameOctets Of(int frame, in CapturedFrame captured) =>
        new(frame, captured.LinkType, captured.TimeNs, captured.OriginalLength, captured.Hci, captured.MarkedCrcBad, captured.Octets.ToArray());

    public CapturedFrame ToFrame() => new()
    {
        Receiver = 0, LinkType = LinkType, TimeNs = TimeNs, OriginalLength = OriginalLength, FileOffset = 0, Octets = Octets, Hci = Hci, MarkedCrcBad = MarkedCrcBad,
    };
}
