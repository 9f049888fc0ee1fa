using MeshTrace.Protocol;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>
/// An access message on its way through the simulated network. Nodes hand each other this object and only the air sees octets, so that
/// a mistake of the decoders cannot hide behind the same mistake here.
/// </summary>
internal sealed class AccessMessage
{
    internal required string Name { get; init; }
    internal required byte[] Payload { get; init; }
    /// <summary>Its sender's choice while a key refresh runs.</summary>
    internal required AccessKey Key { get; set; }
    internal required SubnetKeys Subnet { get; init; }
    internal required MeshAddress Src { get; init; }
    internal required MeshAddress Dst { get; init; }
    internal required byte Ttl { get; init; }

    /// <summary>64-bit TransMIC; only segmented messages can have it.</summary>
    internal bool LongMic { get; init; }

    /// <summary>What it asks servers to do, for requests.</summary>
    internal Request? Request { get; init; }
    internal byte Tid { get; init; }
    internal bool Acknowledged { get; init; }

    /// <summary>The press that it belongs to, as a request or as its answer.</summary>
    internal PressTruth? Press { get; init; }
    internal bool IsAnswer { get; init; }

    /// <summary>A Config message: what the server does and answers.</summary>
    internal ConfigurationStep? Step { get; init; }

    /// <summary>SEQ of SeqAuth, once it has been sent.</summary>
    internal uint Seq { get; set; }
    internal uint IvIndex { get; set; }
}

/// <summary>What a Network PDU carries.</summary>
internal abstract record LowerContent;

/// <summary>A whole access message.</summary>
internal sealed record WholeContent(AccessMessage Message) : LowerContent;

/// <summary>One segment of an access message.</summary>
internal sealed record SegmentContent(AccessMessage Message, int SegO, int SegN, TransferTruth Truth) : LowerContent;

/// <summary>A Segment Acknowledgment.</summary>
/// <param name="For">Destination of the message that is acknowledged; a Friend answers in its place.</param>
/// <param name="SeqAuth">SEQ of its SeqAuth.</param>
/// <param name="Block">Bit n: segment n has arrived.</param>
internal sealed record AckContent(MeshAddress For, uint SeqAuth, uint Block) : LowerContent;

/// <summary>An upper transport control message.</summary>
internal sealed record ControlContent(byte Opcode) : LowerContent;
