using System.Runtime.InteropServices;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.History;

/// <summary>A mesh NID that no key matches or opens.</summary>
/// <param name="Nid">7 bits.</param>
/// <param name="Pdus">Distinct Network PDUs.</param>
/// <param name="Copies">Frames.</param>
/// <param name="KeyMatches">True if a key has this NID but its NetMIC failed for all of them.</param>
public readonly record struct UnknownNid(byte Nid, int Pdus, long Copies, bool KeyMatches);

/// <summary>One hearing of a flood.</summary>
/// <param name="Frame">Row of the frame.</param>
/// <param name="Ttl">TTL of this copy.</param>
public readonly record struct FloodCopy(int Frame, byte Ttl)
{
    private readonly byte _marks;       // SenderConfidence in the low two bits, Bearer above

    /// <summary>Over which bearer. Only copies of the advertising bearer have a channel, a strength and an advertiser.</summary>
    public Bearer Bearer { get => (Bearer)(_marks >> 2); internal init => _marks = (byte)((_marks & 3) | ((int)value << 2)); }

    internal SenderConfidence SenderConfidence { get => (SenderConfidence)(_marks & 3); init => _marks = (byte)((_marks & ~3) | (int)value); }
    internal ushort SenderField { get; init; }
}

/// <summary>Everything a capture told: compact tables, append only, and what was concluded from them.</summary>
public sealed partial class CaptureHistory
{
    public CaptureHistory()
    {
        Memory = new TableMemory();
        Frames = new ChunkedTable<FrameRow>(Memory);
        Floods = new ChunkedTable<FloodRow>(Memory);
        Messages = new ChunkedTable<MessageRow>(Memory);
        Contents = new ContentTable(Memory);
    }

    public required KeyRing Keys { get; init; }
    public IReadOnlyList<ReceiverDescription> Receivers { get; internal set; } = [];
    public IReadOnlyList<CaptureDamage> Damages { get; internal set; } = [];

    public ChunkedTable<FrameRow> Frames { get; }
    public ChunkedTable<FloodRow> Floods { get; }
    public ChunkedTable<MessageRow> Messages { get; }

    /// <summary>Gives the tables their room.</summary>
    internal TableMemory Memory { get; }
    public IReadOnlyList<Transfer> Transfers { get; internal set; } = [];

    /// <summary>How each transfer went, row by row as <see cref="Transfers"/>.</summary>
    public IReadOnlyList<TransferTimeline> Timelines { get; internal set; } = [];
    public IReadOnlyList<Press> Presses { get; internal set; } = [];
    public IReadOnlyList<BeaconRecord> Beacons { get; internal set; } = [];
    public IReadOnlyList<ProvisioningLink> Provisionings { get; internal set; } = [];

    /// <summary>Connections, in the order met. A frame tells which one it belongs to.</summary>
    public IReadOnlyList<ConnectionRecord> Connections => ConnectionList;

    /// <summary>Lines of text logs, in the order of their frames; empty where there are none.</summary>
    public IReadOnlyList<TextLineRecord> TextLines => TextLineList;

    /// <summary>Octets of a line that was taken for an access payload, else empty.</summary>
    public ReadOnlySpan<byte> PayloadOf(TextLineRecord line) => line.PayloadLength == 0 ? [] : TextPayloads[line.PayloadAt, line.PayloadLength];

    /// <summary>The line of a text log that a frame is, or null.</summary>
    public TextLineRecord? TextLineOf(int frame)
    {
        int low = 0, high = TextLineList.Count - 1;
        while (low <= high)
        {
            int middle = (low + high) / 2;
            if (TextLineList[middle].Frame == frame)
                return TextLineList[middle];
            (low, high) = TextLineList[middle].Frame < frame ? (middle + 1, high) : (low, middle - 1);
        }
        return null;
    }

    /// <summary>Events in the life of the network, in order of time.</summary>
    public IReadOnlyList<LifecycleEvent> Lifecycle { get; internal set; } = [];
    public IReadOnlyList<NodeRecord> Nodes { get; internal set; } = [];
    public IReadOnlyList<Finding> Findings { get; internal set; } = [];

    /// <summary>Which node an element belongs to, and names.</summary>
    public NodeDirectory Directory { get; internal set; } = new(null);

    /// <summary>Which node uses which advertiser address.</summary>
    public Senders? Senders { get; internal set; }

    /// <summary>Hops over the whole capture: who relays whom, how far, how fast.</summary>
    public HopStatistics Hops { get; internal set; } = HopStatistics.None;

    /// <summary>How the nodes repeat their PDUs, as heard and as set.</summary>
    public NodeRepeats? Repeats { get; internal set; }

    /// <summary>Messages that were sent more than once, with a new SEQ each.</summary>
    public IReadOnlyList<RepeatedMessage> MessageRepeats { get; internal set; } = [];

    /// <summary>How much of each node's traffic was heard.</summary>
    public HeardShares? HeardShares { get; internal set; }

    /// <summary>What Config messages were heard to change.</summary>
    public ConfigurationHeard? Configuration { get; internal set; }

    /// <summary>The configuration of every node over time.</summary>
    public NodeModels? NodeModels { get; internal set; }

    /// <summary>Notes from the field, on the timeline.</summary>
    public FieldNotes Notes { get; internal set; } = FieldNotes.None;

    /// <summary>Times in which the receivers were deaf.</summary>
    public DeafTimes Deafness { get; internal set; } = DeafTimes.None;

    /// <summary>What each receiver was able to hear, by its index.</summary>
    public IReadOnlyList<ReceiverView> ReceiverViews { get; internal set; } = [];

    /// <summary>NIDs heard that no key opened, most copies first.</summary>
    public IReadOnlyList<UnknownNid> UnknownNids { get; internal set; } = [];

    /// <summary>Distinct Network PDUs heard with a good CRC, opened or not.</summary>
    public int DistinctNetworkPdus { get; internal set; }

    /// <summary>Of those, how many a key opened.</summary>
    public int OpenedNetworkPdus { get; internal set; }

    /// <summary>First and last frame time, or null where no frame has a time.</summary>
    public (long First, long Last)? TimeSpanNs { get; internal set; }

    /// <summary>All frames counted by channel, CRC and what they carry.</summary>
    public FrameCounts FrameCounts { get => _frameCounts ??= FrameCounts.Of(Frames); internal set => _frameCounts = value; }
    private FrameCounts? _frameCounts;

    /// <summary>Octets of a message: the decrypted access payload, or the control parameters; empty when not decrypted.</summary>
    public ReadOnlySpan<byte> PayloadOf(int message)
    {
        ref readonly MessageRow row = ref Messages[message];
        return row.PayloadLength == 0 ? [] : Payloads[row.PayloadAt, row.PayloadLength];
    }

    /// <summary>Rows of the floods that carried a message, in the order heard.</summary>
    public IReadOnlyList<int> FloodsOf(int message) => MessageFloods.TryGetValue(message, out List<int>? floods) ? floods : [Messages[message].FirstFloodLink];

    /// <summary>As <see cref="FloodsOf"/>, without a list of its own: valid until the next message is added.</summary>
    internal ReadOnlySpan<int> FloodSpanOf(int message) =>
        MessageFloods.TryGetValue(message, out List<int>? floods) ? CollectionsMarshal.AsSpan(floods) : new ReadOnlySpan<int>(ref Messages[message].FirstFloodLink);

    /// <summary>Every hearing of a flood, in the order heard.</summary>
    public ReadOnlySpan<FloodCopy> CopiesOf(int flood) => Copies.Of(flood);

    /// <summary>The node that most likely transmitted a copy, or null: often a relay, not known which.</summary>
    public MeshAddress? SenderOf(FloodCopy copy) => Senders is not null && copy.SenderConfidence == SenderConfidence.Likely ? new MeshAddress(copy.SenderField) : null;

    /// <summary>As <see cref="SenderOf"/>, but also names a node that is merely possible, and says so.</summary>
    public (MeshAddress? Node, SenderConfidence Confidence) SenderGuessOf(FloodCopy copy) =>
        (Senders is null || copy.SenderConfidence == SenderConfidence.Unknown ? null : new MeshAddress(copy.SenderField), copy.SenderConfidence);

    /// <summary>
    /// True unless something tells that what was heard at the highest TTL came from relays: then the original itself was not heard.
    /// </summary>
    public bool OriginatorHeard(int flood) => Floods[flood].OriginField == FloodRow.OriginHeard;

    /// <summary>
    /// Hops of a copy from the originator: TTL of the original minus its own, 0 for the originator's. Null where the original was not heard and its
    /// TTL is not known otherwise, and for what a proxy server passed on to its client: that is no hop on the air.
    /// </summary>
    public int? HopOf(int flood, FloodCopy copy) => copy.Bearer is Bearer.GattFromServer or Bearer.TextLog ? null : Floods[flood].OriginalTtl - copy.Ttl;

    /// <summary>
    /// Which copies of a flood are one transmission that several receivers heard: the same number, from 1 within the flood; 0 for what did not come by
    /// advertising. In the order of <see cref="CopiesOf"/>.
    /// </summary>
    public int[] TransmissionsOf(int flood) => Transmissions.Number(this, CopiesOf(flood));

    /// <summary>The first flood in a frame, or null.</summary>
    public int? FloodOf(int frame) => Frames[frame].Content is var content and >= 0 && ContentFlood(content) is var flood and >= 0 ? flood : null;
}
