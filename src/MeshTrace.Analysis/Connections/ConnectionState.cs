using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Att;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;

namespace MeshTrace.Analysis.Connections;

/// <summary>One connection while it is read: reassembly in both directions, and what lies above.</summary>
internal sealed class ConnectionState(ConnectionRecord record, int row, KeyRing keys, MeshMessageSink sink)
{
    /// <summary>So many frames without one on a channel that LE has, and none that reads: the link was encrypted before the capture (threshold ours).</summary>
    private const int EnoughStrange = 8;

    private readonly FrameAssembly[] _assemblies = [new(), new()];
    private readonly AttributeSession _attributes = new(record, keys, sink);
    private bool _encryptionAsked;
    private int _strange, _known;

    public ConnectionRecord Record => record;
    public int Row => row;
    public LinkFlow Flow { get; } = new();

    /// <summary>CRCInit of a connection on the air, or null while not known.</summary>
    public uint? CrcInit { get; set; }

    public void Note(long timeNs)
    {
        if (timeNs == CapturedFrame.NoTime)
            return;
        if (record.FirstTimeNs == CapturedFrame.NoTime)
            record.FirstTimeNs = record.LastTimeNs = timeNs;
        record.FirstTimeNs = Math.Min(record.FirstTimeNs, timeNs);
        record.LastTimeNs = Math.Max(record.LastTimeNs, timeNs);
    }

    /// <summary>A data channel PDU with a right CRC.</summary>
    /// <param name="side">0 or 1; -1 where the capture does not tell.</param>
    public void TakeDataChannel(int side, in DataChannelPdu pdu, bool decrypted, int frame, long timeNs)
    {
        if (record.Encryption == LinkEncryption.Encrypted && !decrypted)
        {
            record.Counts.Encrypted += pdu.Payload.IsEmpty ? 0 : 1;
            return;
        }
        if (side >= 0)
        {
            FlowStep step = Flow.Take(side, in pdu, timeNs);
            if (step == FlowStep.Repeated)
            {
                record.Counts.Repeated++;
                return;
            }
            if (step == FlowStep.AfterGap)
                Gap(side);
        }
        if (pdu.Llid == LogicalLinkId.Control)
            TakeControl(pdu.Payload);
        else if (!pdu.Payload.IsEmpty && _encryptionAsked && !decrypted)
            TakeAsEncrypted();
        else if (!pdu.Payload.IsEmpty)
            TakePiece(side, pdu.Llid == LogicalLinkId.Start, pdu.Payload, frame, timeNs);
    }

    /// <summary>A piece of an L2CAP frame.</summary>
    /// <param name="side">0 or 1; -1 where the capture does not tell.</param>
    public void TakePiece(int side, bool starts, ReadOnlySpan<byte> piece, int frame, long timeNs)
    {
        if (side < 0 && (side = SideOf(starts, piece)) < 0)
        {
            record.Counts.FramesLost++;
            return;
        }
        if (starts && record.AccessAddress is not null)
            JudgeChannel(piece);
        bool complete = _assemblies[side].Take(starts, piece, out int lost);
        record.Counts.FramesLost += lost;
        if (!complete)
            return;
        if (!L2capFrame.TryRead(_assemblies[side].Whole, out L2capFrame whole, out _))
            return;
        if (whole.ChannelId == L2capFrame.AttributeProtocol)
            _attributes.Take(side, whole.Payload, frame, timeNs);
        else
            record.Counts.OtherFrames++;
    }

    /// <summary>From the air: what is encrypted begins with any octets, and so hardly ever names a channel that LE has.</summary>
    private void JudgeChannel(ReadOnlySpan<byte> start)
    {
        if (start.Length < L2capFrame.HeaderLength)
            return;
        if ((start[2] | (start[3] << 8)) is L2capFrame.AttributeProtocol or L2capFrame.LeSignalling or L2capFrame.SecurityManager)
            _known++;
        else if (++_strange >= EnoughStrange && _known == 0)
            record.Encryption = LinkEncryption.LooksEncrypted;
    }

    /// <summary>
    /// Where the capture does not tell who sent a piece: of a whole frame the opcode of the Attribute Protocol tells it, taking the client for the first
    /// side; what continues belongs to the only frame that is open. -1 where nothing tells.
    /// </summary>
    private int SideOf(bool starts, ReadOnlySpan<byte> piece)
    {
        if (!starts)
            return (_assemblies[0].IsOpen, _assemblies[1].IsOpen) switch { (true, false) => 0, (false, true) => 1, _ => -1 };
        if (!L2capFrame.TryRead(piece, out L2capFrame frame, out _) || frame.ChannelId != L2capFrame.AttributeProtocol || !AttPdu.TryRead(frame.Payload, out AttPdu pdu, out _))
            return -1;
        return pdu.IsFromClient switch { true => 0, false => 1, null => -1 };
    }

    /// <summary>Packets were missed: what is half received is given up, in all layers.</summary>
    public void Gap(int side)
    {
        record.Counts.Gaps++;
        if (_assemblies[side].Drop())
            record.Counts.FramesLost++;
        _attributes.Drop(side);
    }

    private void TakeAsEncrypted()
    {
        record.Encryption = LinkEncryption.Encrypted;
        record.Counts.Encrypted++;
    }

    private void TakeControl(ReadOnlySpan<byte> payload)
    {
        if (payload.IsEmpty)
            return;
        switch ((LinkControlOpcode)payload[0])
        {
            case LinkControlOpcode.EncReq:
                _encryptionAsked = true;
                break;
            case LinkControlOpcode.StartEncReq:
                record.Encryption = LinkEncryption.Encrypted;
                break;
            case LinkControlOpcode.RejectInd or LinkControlOpcode.RejectExtInd:
                _encryptionAsked = false;
                break;
            case LinkControlOpcode.TerminateInd when payload.Length >= 2:
                record.EndReason = payload[1];
                break;
            case LinkControlOpcode.ConnectionUpdateInd when payload.Length >= 6:
                SetInterval((ushort)(payload[4] | (payload[5] << 8)));
                break;
        }
    }

    public void SetInterval(ushort units)
    {
        record.IntervalMs = units * 1.25;
        // An update holds from an instant on; until then the longer of the two paces is no loss.
        Flow.IntervalNs = Math.Max(Flow.IntervalNs, units * 1_250_000L);
    }
}
