using MeshTrace.Analysis;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Commands;

/// <summary>Opens the captures of a run, in the same way whoever reads them: frames must come in the same order each time.</summary>
internal static class CaptureOpening
{
    /// <summary>With clocks aligned; frames carried in UDP were all stamped by the host that captured the datagrams, and are left as they are.</summary>
    /// <exception cref="CaptureFormatException">One of the files cannot be opened or is no capture.</exception>
    public static IFrameSource Open(IReadOnlyList<string> captures, AnalysisSettings settings, UdpEncapsulation? udp, ICollection<string>? unknown = null,
        Action<long, long?>? progress = null, CancellationToken stop = default)
    {
        if (udp is null)
            return CaptureFile.OpenAligned(captures, settings.ReceiverOffsets, unknown, progress, stop);
        foreach (ReceiverOffset offset in settings.ReceiverOffsets)
            unknown?.Add(offset.Name);
        return UdpSource.OpenAll(captures, udp);
    }
}
