using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.LowerTransport;

namespace MeshTrace.Analysis.Transfers;

/// <summary>
/// Reassembles segmented messages (Mesh Protocol 1.1 §3.5.3). A segment is kept as the row of its flood, whose octets the history holds
/// anyway; so interleaved, repeated and never finished transfers cost no memory beyond their floods.
/// </summary>
internal sealed class TransferTable(ChunkedTable<FloodRow> floods)
{
    /// <summary>Segment Acknowledgments look this many transfers back: SeqZero has 13 bits and comes again.</summary>
    private const int TransfersOfOneSender = 8;

    private readonly List<Transfer> _transfers = [];
    private readonly List<int[]> _segmentFloods = [];
    private readonly Dictionary<TransferKey, int> _current = [];
    private readonly Dictionary<(ushort Sender, ushort SeqZero), List<int>> _bySender = [];

    /// <summary>Acknowledgments of which no segment had been heard, the latest ones: the first copy heard of a segment may come after them.</summary>
    private readonly Queue<(int Flood, ushort SeqZero, bool Obo, uint Block)> _early = new();
    private const int MostEarly = 64;

    /// <summary>A PDU that is given on is looked for among so many of its transfer: 32 segments, each sent 8 times.</summary>
    private const int MostLookedBack = 256;

    public IReadOnlyList<Transfer> Transfers => _transfers;

    /// <summary>Takes a segment.</summary>
    /// <param name="floodRow">Row of its flood.</param>
    /// <param name="header">What all segments of the message share.</param>
    /// <param name="seqAuthSeq">The 24-bit SEQ of SeqAuth.</param>
    /// <param name="segO">Segment offset.</param>
    /// <returns>Row of the transfer, and whether this segment completed it.</returns>
    public (int Row, bool Completed) AddSegment(int floodRow, SharedHeader header, uint seqAuthSeq, byte segO)
    {
        ref FloodRow flood = ref floods[floodRow];
        var key = new TransferKey(flood.Src, flood.Dst, flood.IvIndex, seqAuthSeq, header);
        if (!_current.TryGetValue(key, out int row) || Contradicts(row, segO, flood.TransportPdu))
            row = Begin(key, in flood);
        Transfer transfer = _transfers[row];
        flood.TransferField = row;
        bool givenOn = IsGivenOn(transfer, segO, flood.Seq);
        transfer.Sent.Add(new SegmentSent(segO, floodRow, flood.FirstTimeNs, givenOn));
        if (!givenOn)
            transfer.LastTimeNs = Math.Max(transfer.LastTimeNs, flood.FirstTimeNs);
        uint before = transfer.Heard;
        if ((before & (1u << segO)) == 0)
        {
            transfer.Heard = before | (1u << segO);
            _segmentFloods[row][segO] = floodRow;
        }
        return (row, before != transfer.AllSegments && transfer.Heard == transfer.AllSegments);
    }

    /// <summary>Gives a Segment Acknowledgment to the newest transfer it fits; -1 where none was heard so far.</summary>
    public int AddAcknowledgment(int floodRow, in SegmentAcknowledgment ack)
    {
        ref FloodRow flood = ref floods[floodRow];
        if (!_bySender.TryGetValue((flood.Dst.Value, ack.SeqZero), out List<int>? rows))
        {
            if (_early.Count == MostEarly)
                _early.Dequeue();
            _early.Enqueue((floodRow, ack.SeqZero, ack.Obo, ack.BlockAck));
            return -1;
        }
        for (int i = rows.Count - 1; i >= 0; i--)
        {
            Transfer transfer = _transfers[rows[i]];
            if (transfer.IvIndex > flood.IvIndex || !(transfer.Dst == flood.Src || ack.Obo))
                continue;
            transfer.Acks.Add(new BlockAcknowledgment(floodRow, flood.FirstTimeNs, flood.Src, ack.Obo, ack.BlockAck));
            transfer.LastTimeNs = Math.Max(transfer.LastTimeNs, flood.FirstTimeNs);
            flood.TransferField = rows[i];
            return rows[i];
        }
        return -1;
    }

    /// <summary>Puts the segments of a complete transfer together.</summary>
    /// <param name="row">Row of the transfer.</param>
    /// <param name="whole">At least 384 octets.</param>
    /// <returns>Octets written.</returns>
    public int Assemble(int row, Span<byte> whole)
    {
        int at = 0;
        foreach (int floodRow in _segmentFloods[row])
        {
            ReadOnlySpan<byte> segment = floods[floodRow].TransportPdu[SharedHeader.Octets..];
            segment.CopyTo(whole[at..]);
            at += segment.Length;
        }
        return at;
    }

    /// <summary>Rows of the floods that first carried each segment.</summary>
    public IReadOnlyList<int> SegmentFloods(int row) => _segmentFloods[row];

    /// <summary>Says how each transfer ended: the first that holds of cancelled, acknowledged, all heard, incomplete.</summary>
    public void Conclude()
    {
        foreach (Transfer transfer in _transfers)
        {
            bool full = false, cancelled = false;
            foreach (BlockAcknowledgment ack in transfer.Acks)
            {
                bool isFull = (ack.Block & transfer.AllSegments) == transfer.AllSegments;
                full |= isFull;
                cancelled = ack.Block == 0 || (cancelled && !isFull);
            }
            transfer.Outcome = cancelled ? TransferOutcome.Cancelled
                : full ? TransferOutcome.Acknowledged
                : transfer.Heard == transfer.AllSegments ? TransferOutcome.AllHeard
                : TransferOutcome.Incomplete;
        }
    }

    public void Clear()
    {
        _transfers.Clear();
        _segmentFloods.Clear();
        _current.Clear();
        _bySender.Clear();
        _early.Clear();
    }

    private int Begin(TransferKey key, in FloodRow flood)
    {
        int row = _transfers.Count;
        _transfers.Add(new Transfer
        {
            IsControl = flood.Ctl, Src = flood.Src, Dst = flood.Dst, Seq = key.Seq, IvIndex = flood.IvIndex, SeqZero = (ushort)(key.Seq & 0x1FFF),
            Segments = key.Header.SegN + 1, Subnet = flood.Subnet, FirstTimeNs = flood.FirstTimeNs, LastTimeNs = flood.FirstTimeNs,
        });
        _segmentFloods.Add(new int[key.Header.SegN + 1]);
        _current[key] = row;
        var sender = (flood.Src.Value, (ushort)(key.Seq & 0x1FFF));
        if (!_bySender.TryGetValue(sender, out List<int>? rows))
            _bySender.Add(sender, rows = []);
        if (rows.Count == TransfersOfOneSender)
            rows.RemoveAt(0);
        rows.Add(row);
        TakeEarly(row);
        return row;
    }

    /// <summary>Acknowledgments of the transfer that were heard before the first copy of any segment.</summary>
    private void TakeEarly(int row)
    {
        Transfer transfer = _transfers[row];
        foreach ((int floodRow, ushort seqZero, bool obo, uint block) in _early)
        {
            ref FloodRow flood = ref floods[floodRow];
            if (flood.TransferField >= 0 || seqZero != transfer.SeqZero || flood.Dst != transfer.Src || transfer.IvIndex > flood.IvIndex
                || !(transfer.Dst == flood.Src || obo) || transfer.FirstTimeNs - flood.FirstTimeNs > FirstCopy.MostLateNs)
                continue;
            transfer.Acks.Add(new BlockAcknowledgment(floodRow, flood.FirstTimeNs, flood.Src, obo, block));
            flood.TransferField = row;
        }
    }

    /// <summary>True if a flood of the transfer had this PDU already. Looks no further back than a transfer is long.</summary>
    private bool IsGivenOn(Transfer transfer, byte segO, uint seq)
    {
        for (int at = transfer.Sent.Count - 1, left = MostLookedBack; at >= 0 && left > 0; at--, left--)
            if (transfer.Sent[at].SegO == segO && floods[transfer.Sent[at].Flood].Seq == seq)
                return true;
        return false;
    }

    /// <summary>The same segment with other octets is another message: the sender's SEQ was set back, or the address is claimed twice.</summary>
    private bool Contradicts(int row, byte segO, ReadOnlySpan<byte> transportPdu) =>
        (_transfers[row].Heard & (1u << segO)) != 0 && !floods[_segmentFloods[row][segO]].TransportPdu.SequenceEqual(transportPdu);
}

/// <summary>What all segments of one message share of their lower transport header (Mesh Protocol 1.1 §3.5.2.2, §3.5.2.4).</summary>
/// <param name="First">First octet: SEG, AKF and AID, or SEG and opcode.</param>
/// <param name="SzMic">64-bit TransMIC.</param>
/// <param name="SegN">Number of the last segment.</param>
internal readonly record struct SharedHeader(byte First, bool SzMic, byte SegN)
{
    public const int Octets = 4;
}

internal readonly record struct TransferKey(MeshAddress Src, MeshAddress Dst, uint IvIndex, uint Seq, SharedHeader Header);
