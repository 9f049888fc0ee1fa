using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Transfers;

/// <summary>How a segmented transfer ended, as far as the air tells; the first that holds.</summary>
public enum TransferOutcome : byte
{
    Incomplete,
    AllHeard,
    Acknowledged,
    Cancelled,
}

/// <summary>A segment as one flood carried it.</summary>
/// <param name="SegO">Segment offset, 0-31.</param>
/// <param name="Flood">Row of the flood.</param>
/// <param name="TimeNs">Its first hearing.</param>
/// <param name="GivenOn">The same PDU, by its SEQ, was heard in another flood before: a Friend gives it on, or it came again long after. The sender itself takes a
/// new SEQ for every transmission of a segment (Mesh Protocol 1.1 §3.5.3.3).</param>
public readonly record struct SegmentSent(byte SegO, int Flood, long TimeNs, bool GivenOn = false);

/// <summary>A Segment Acknowledgment (Mesh Protocol 1.1 §3.5.2.3.1) that belongs to a transfer.</summary>
/// <param name="Flood">Row of the flood.</param>
/// <param name="TimeNs">Its first hearing.</param>
/// <param name="From">SRC of the acknowledgment: the receiver or its Friend.</param>
/// <param name="OnBehalf">OBO: a Friend answers for its Low Power node.</param>
/// <param name="Block">BlockAck, bit n = segment n.</param>
public readonly record struct BlockAcknowledgment(int Flood, long TimeNs, MeshAddress From, bool OnBehalf, uint Block);

/// <summary>One segmented transfer, complete or not.</summary>
public sealed class Transfer
{
    public required bool IsControl { get; init; }
    public required MeshAddress Src { get; init; }
    public required MeshAddress Dst { get; init; }

    /// <summary>The 24-bit SEQ of SeqAuth.</summary>
    public required uint Seq { get; init; }
    public required uint IvIndex { get; init; }
    public required ushort SeqZero { get; init; }

    /// <summary>SegN + 1.</summary>
    public required int Segments { get; init; }
    public required int Subnet { get; init; }
    public long FirstTimeNs { get; internal set; }
    public long LastTimeNs { get; internal set; }
    public List<SegmentSent> Sent { get; } = [];
    public List<BlockAcknowledgment> Acks { get; } = [];

    /// <summary>Bit n = segment n was heard at least once.</summary>
    public uint Heard { get; internal set; }
    public TransferOutcome Outcome { get; internal set; }

    /// <summary>Row of the message it brought, or -1.</summary>
    public int Message { get; internal set; } = -1;

    /// <summary>One bit for every segment.</summary>
    public uint AllSegments => Segments >= 32 ? uint.MaxValue : (1u << Segments) - 1;
}
