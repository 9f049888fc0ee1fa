using System.Runtime.CompilerServices;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.History;

public sealed partial class CaptureHistory
{
    internal ContentTable Contents { get; }

    /// <summary>The first frame with a Network PDU of a NID that no key opened, or null.</summary>
    public int? FirstUnopenedFrame(byte nid) =>
        FirstFrameWith((in ContentRow content) => content.Kind.IsNetworkPdu() && content.State is ContentState.NoKey or ContentState.Failed && (content.Octets[0] & 0x7F) == nid);

    /// <summary>The first frame of a provisioning link of the advertising bearer, or null where it went over another one.</summary>
    public int? FirstProvisioningFrame(int link) => FirstFrameWith((in ContentRow content) => content.Kind == ContentKind.PbAdv && content.Owner == link);

    private delegate bool ContentTest(in ContentRow content);

    private int? FirstFrameWith(ContentTest test)
    {
        for (int frame = 0; frame < Frames.Count; frame++)
            if (Frames[frame].Content is var content and >= 0 && test(in Contents[content]))
                return frame;
        return null;
    }

    /// <summary>Further mesh contents of frames that carry more than one: (frame, content), in order.</summary>
    internal List<(int Frame, int Content)> FurtherContents { get; } = [];

    internal List<ConnectionRecord> ConnectionList { get; } = [];
    internal List<ConnectionProvisioningPdu> ConnectionProvisioning { get; } = [];

    internal List<TextLineRecord> TextLineList { get; } = [];

    /// <summary>Octets of access payloads in text logs.</summary>
    internal OctetArena TextPayloads { get; } = new();

    /// <summary>Frames before this one have been gone through: contents that are set in them now would not be seen.</summary>
    internal int PlacedFrames { get; set; }

    /// <summary>Gaps in the recorders' own packet counters.</summary>
    internal List<DeafSpan> RecorderLosses { get; } = [];

    /// <summary>Times in which the channels were crowded where a receiver stood.</summary>
    internal IReadOnlyList<CrowdedSpan> Crowded { get; set; } = [];
    internal OctetArena Payloads { get; } = new();

    /// <summary>Floods of the messages that have more than one.</summary>
    internal Dictionary<int, List<int>> MessageFloods { get; } = [];
    internal FloodCopies Copies { get; } = new();
    internal int CopyCount => Copies.Count;

    internal int ContentFlood(int content) =>
        Contents[content] is { State: ContentState.Opened } row && row.Kind.IsNetworkPdu() ? row.Owner : -1;

    /// <summary>How often a key was tried on a Network PDU, over all goings through: work that a test counts.</summary>
    internal long NetworkTries { get; set; }

    /// <summary>Octets of the tables that grow with the frames, unused room included: what a test holds against the number of frames.</summary>
    internal long TableOctets => (Frames.AllocatedRows * Unsafe.SizeOf<FrameRow>()) + (Floods.AllocatedRows * Unsafe.SizeOf<FloodRow>())
        + (Messages.AllocatedRows * Unsafe.SizeOf<MessageRow>()) + Contents.AllocatedOctets + Payloads.AllocatedOctets
        + ((long)Copies.Count * Unsafe.SizeOf<FloodCopy>()) + ((long)Floods.Count * sizeof(int));

    /// <summary>Forgets what follows from the contents, so that they can be gone through again with more keys.</summary>
    internal void ClearDerived()
    {
        Floods.Clear();
        Messages.Clear();
        Payloads.Clear();
        MessageFloods.Clear();
    }

    /// <summary>Gives back the room behind the last rows, until more is read.</summary>
    internal void Trim()
    {
        Frames.Trim();
        Floods.Trim();
        Messages.Trim();
        Contents.Trim();
    }
}
