using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.LowerTransport;

namespace MeshTrace.Analysis.Transfers;

/// <summary>From floods to messages: lower transport, reassembly, upper transport. Sees every flood once, in the order of first hearing.</summary>
internal sealed class TransportStage(CaptureHistory history, TransferTable transfers, MessageOpener opener)
{
    /// <summary>Longest upper transport PDU: 32 segments of 12 octets (Mesh Protocol 1.1 §3.5.2).</summary>
    private const int LongestUpperPdu = 384;

    private readonly List<int> _unopened = [];

    /// <summary>Called with the row of each message that was opened and each control message, in order.</summary>
    public required Action<int> OnMessage { get; init; }

    /// <summary>Takes a new flood.</summary>
    /// <param name="floodRow">Its row.</param>
    /// <param name="twin">Row of an earlier flood with the same PDU, or -1: then it is the same message, heard again.</param>
    public void Take(int floodRow, int twin)
    {
        ref FloodRow flood = ref history.Floods[floodRow];
        if (twin >= 0 && history.Floods[twin].MessageField >= 0 && history.Floods[twin].TransferField < 0)
        {
            Attach(history.Floods[twin].MessageField, floodRow);
            return;
        }
        ReadOnlySpan<byte> pdu = flood.TransportPdu;
        switch (LowerTransport.KindOf(flood.Ctl, pdu))
        {
            case LowerTransportKind.UnsegmentedAccess when UnsegmentedAccess.TryRead(pdu, out UnsegmentedAccess access, out _):
                AddAccess(floodRow, access.Akf, access.Aid, szMic: false, flood.Seq, access.UpperTransportPdu, transfer: -1);
                break;
            case LowerTransportKind.SegmentedAccess when SegmentedAccess.TryRead(pdu, out SegmentedAccess segment, out _) && segment.SegO <= segment.SegN:
                TakeSegment(floodRow, new SharedHeader(pdu[0], segment.SzMic, segment.SegN), LowerTransport.SeqAuth(flood.Seq, segment.SeqZero), segment.SegO);
                break;
            case LowerTransportKind.SegmentedControl when SegmentedControl.TryRead(pdu, out SegmentedControl segment, out _) && segment.SegO <= segment.SegN:
                TakeSegment(floodRow, new SharedHeader(pdu[0], false, segment.SegN), LowerTransport.SeqAuth(flood.Seq, segment.SeqZero), segment.SegO);
                break;
            case LowerTransportKind.SegmentAcknowledgment when SegmentAcknowledgment.TryRead(pdu, out SegmentAcknowledgment ack, out _):
                transfers.AddAcknowledgment(floodRow, in ack);
                break;
            case LowerTransportKind.UnsegmentedControl when UnsegmentedControl.TryRead(pdu, out UnsegmentedControl control, out _):
                AddControl(floodRow, control.Opcode, control.Parameters, flood.Seq, transfer: -1);
                break;
        }
    }

    /// <summary>Tries all messages that no key opened again, after keys were learnt.</summary>
    public void RetryUnopened()
    {
        int[] rows = [.. _unopened];
        _unopened.Clear();
        Span<byte> whole = stackalloc byte[LongestUpperPdu];
        Span<byte> payload = stackalloc byte[LongestUpperPdu];
        foreach (int row in rows)
        {
            ref MessageRow message = ref history.Messages[row];
            scoped ReadOnlySpan<byte> upper;
            byte first;
            if (message.Transfer >= 0)
            {
                upper = whole[..transfers.Assemble(message.Transfer, whole)];
                first = history.Floods[transfers.SegmentFloods(message.Transfer)[0]].TransportPdu[0];
            }
            else
            {
                ReadOnlySpan<byte> pdu = history.Floods[message.FirstFloodLink].TransportPdu;
                upper = pdu[1..];
                first = pdu[0];
            }
            Open(row, upper, (byte)(first & 0x3F), payload);
        }
    }

    public void Clear() => _unopened.Clear();

    /// <summary>A copy at a higher TTL was heard: the message shows the highest.</summary>
    public void RaiseTtl(int floodRow)
    {
        ref FloodRow flood = ref history.Floods[floodRow];
        if (flood.MessageField >= 0)
        {
            ref MessageRow message = ref history.Messages[flood.MessageField];
            message.Ttl = Math.Max(message.Ttl, flood.TtlHigh);
        }
    }

    private void TakeSegment(int floodRow, SharedHeader header, uint seq, byte segO)
    {
        (int row, bool completed) = transfers.AddSegment(floodRow, header, seq, segO);
        Transfer transfer = transfers.Transfers[row];
        if (!completed)
        {
            if (transfer.Message >= 0)
                Attach(transfer.Message, floodRow);
            return;
        }
        Span<byte> whole = stackalloc byte[LongestUpperPdu];
        int length = transfers.Assemble(row, whole);
        transfer.Message = transfer.IsControl
            ? AddControl(floodRow, (byte)(header.First & 0x7F), whole[..length], seq, row)
            : AddAccess(floodRow, (header.First & 0x40) != 0, (byte)(header.First & 0x3F), header.SzMic, seq, whole[..length], row);
        foreach (SegmentSent sent in transfer.Sent)
            if (sent.Flood != floodRow)
                Attach(transfer.Message, sent.Flood);
        if (history.MessageFloods.TryGetValue(transfer.Message, out List<int>? floods))
            floods.Sort();
    }

    private int AddAccess(int floodRow, bool akf, byte aid, bool szMic, uint seq, scoped ReadOnlySpan<byte> upper, int transfer)
    {
        int row = Add(floodRow, isControl: false, seq, transfer);
        ref MessageRow message = ref history.Messages[row];
        message.Key = akf ? MessageKey.Application : MessageKey.Device;
        message.TransMicBits = szMic ? (byte)64 : (byte)32;
        Span<byte> payload = stackalloc byte[LongestUpperPdu];
        Open(row, upper, aid, payload);
        return row;
    }

    private void Open(int row, scoped ReadOnlySpan<byte> upper, byte aid, Span<byte> payload)
    {
        ref MessageRow message = ref history.Messages[row];
        if (!opener.TryOpen(upper, aid, ref message, payload))
        {
            _unopened.Add(row);
            return;
        }
        ReadOnlySpan<byte> octets = payload[..message.PayloadLength];
        message.PayloadAt = history.Payloads.Add(octets);
        message.Opcode = Opcode.TryRead(octets, out Opcode opcode, out _) ? opcode : default;
        OnMessage(row);
    }

    private int AddControl(int floodRow, byte opcode, scoped ReadOnlySpan<byte> parameters, uint seq, int transfer)
    {
        int row = Add(floodRow, isControl: true, seq, transfer);
        ref MessageRow message = ref history.Messages[row];
        message.Opcode = new Opcode(opcode);
        message.Decrypted = true;
        message.PayloadLength = parameters.Length;
        message.PayloadAt = history.Payloads.Add(parameters);
        OnMessage(row);
        return row;
    }

    private int Add(int floodRow, bool isControl, uint seq, int transfer)
    {
        ref FloodRow flood = ref history.Floods[floodRow];
        int row = history.Messages.Add(new MessageRow
        {
            IsControl = isControl, TimeNs = flood.FirstTimeNs, Src = flood.Src, Dst = flood.Dst, Seq = seq, IvIndex = flood.IvIndex, Ttl = flood.TtlHigh,
            Subnet = flood.Subnet, AppKey = -1, Label = -1, Transfer = transfer, FirstFloodLink = floodRow,
            Segments = transfer < 0 ? (byte)0 : (byte)transfers.Transfers[transfer].Segments, DeviceKeyOf = MeshAddress.Unassigned,
        });
        flood.MessageField = row;
        return row;
    }

    private void Attach(int message, int floodRow)
    {
        ref FloodRow flood = ref history.Floods[floodRow];
        flood.MessageField = message;
        ref MessageRow row = ref history.Messages[message];
        if (!history.MessageFloods.TryGetValue(message, out List<int>? floods))
            history.MessageFloods.Add(message, floods = [row.FirstFloodLink]);
        floods.Add(floodRow);
        row.Ttl = Math.Max(row.Ttl, flood.TtlHigh);
    }
}
