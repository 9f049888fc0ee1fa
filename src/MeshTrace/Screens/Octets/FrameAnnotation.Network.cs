using System.Buffers.Binary;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.UpperTransport.Control;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens.Octets;

/// <summary>From the network layer upward. The history keeps what the keys opened, so that nothing is decrypted a second time.</summary>
internal static partial class FrameAnnotation
{
    private const string NetworkLayer = "network", Lower = "lower transp.", Upper = "upper transp.", Access = "access";

    /// <summary>CTL and TTL, SEQ, SRC are obfuscated together (Mesh Protocol 1.1 §3.9.7.3).</summary>
    private const int ObfuscatedLength = 6;

    private static void Network(OctetLines lines, Account account, int frame, int? at, ReadOnlySpan<byte> pdu, bool isFirst)
    {
        if (pdu.IsEmpty)
            return;
        CaptureHistory history = account.History;
        int nid = pdu[0] & 0x7F;
        int? row = isFirst ? history.FloodOf(frame) : null;
        if (row is not { } flood || pdu.Length < 1 + ObfuscatedLength + 4)
        {
            Add(lines, NetworkLayer, at, pdu[..1], "IVI, NID", $"IVI {pdu[0] >> 7}, NID 0x{nid:X2}");
            Add(lines, NetworkLayer, at + 1, pdu[1..], "encrypted", isFirst ? "no key opens it" : "a further message of this frame: shown encrypted");
            return;
        }
        ref FloodRow opened = ref history.Floods[flood];
        Subnet subnet = history.Keys.Subnets[opened.Subnet];
        int mic = opened.Ctl ? 8 : 4;
        Add(lines, NetworkLayer, at, pdu[..1], "IVI, NID", $"IVI {pdu[0] >> 7} (IV index {opened.IvIndex}), NID 0x{nid:X2}: {NetworkSection.NetKeyName(subnet)}");
        Add(lines, NetworkLayer, at + 1, pdu.Slice(1, ObfuscatedLength), "obfuscated", "CTL, TTL, SEQ, SRC:");
        byte ttl = TtlOf(history, flood, frame);
        Span<byte> header = stackalloc byte[8];
        header[0] = (byte)((opened.Ctl ? 0x80 : 0) | ttl);
        BinaryPrimitives.WriteUInt32BigEndian(header[1..], opened.Seq << 8);
        BinaryPrimitives.WriteUInt16BigEndian(header[4..], opened.Src.Value);
        BinaryPrimitives.WriteUInt16BigEndian(header[6..], opened.Dst.Value);
        lines.AddClear(NetworkLayer, header[..1], "CTL, TTL", $"{(opened.Ctl ? "control" : "access")} message, TTL {ttl}");
        lines.AddClear(NetworkLayer, header.Slice(1, 3), "SEQ", $"{opened.Seq}");
        lines.AddClear(NetworkLayer, header.Slice(4, 2), "SRC", account.Names.Full(opened.Src));
        Add(lines, NetworkLayer, at + 1 + ObfuscatedLength, pdu[(1 + ObfuscatedLength)..^mic], "encrypted", "DST, TransportPDU:");
        lines.AddClear(NetworkLayer, header.Slice(6, 2), "DST", account.Names.Full(opened.Dst));
        Transport(lines, account, flood);
        Add(lines, NetworkLayer, at + pdu.Length - mic, pdu[^mic..], "NetMIC", "authentic: the key opens it");
    }

    private static byte TtlOf(CaptureHistory history, int flood, int frame)
    {
        foreach (FloodCopy copy in history.CopiesOf(flood))
            if (copy.Frame == frame)
                return copy.Ttl;
        return history.Floods[flood].HighestTtl;
    }

    private static void Transport(OctetLines lines, Account account, int row)
    {
        ref FloodRow flood = ref account.History.Floods[row];
        ReadOnlySpan<byte> pdu = flood.TransportPdu;
        switch (LowerTransport.KindOf(flood.Ctl, pdu))
        {
            case LowerTransportKind.UnsegmentedAccess when UnsegmentedAccess.TryRead(pdu, out UnsegmentedAccess access, out _):
                lines.AddClear(Lower, pdu[..1], "SEG, AKF, AID", "unsegmented, " + KeyWords(access.Akf, access.Aid));
                lines.AddClear(Upper, access.UpperTransportPdu[..^4], "encrypted", "access payload:");
                Message(lines, account, flood.Message);
                lines.AddClear(Upper, access.UpperTransportPdu[^4..], "TransMIC", TransMicWords(account, flood.Message));
                break;
            case LowerTransportKind.SegmentedAccess when SegmentedAccess.TryRead(pdu, out SegmentedAccess segment, out _):
                lines.AddClear(Lower, pdu[..1], "SEG, AKF, AID", "segmented, " + KeyWords(segment.Akf, segment.Aid));
                lines.AddClear(Lower, pdu.Slice(1, 3), "SZMIC, SeqZero, SegO, SegN", $"segment {segment.SegO} of 0-{segment.SegN}, SeqZero {segment.SeqZero}, TransMIC of {(segment.SzMic ? 64 : 32)} bits");
                lines.AddClear(Lower, segment.Segment, "Segment", "a part of the encrypted message");
                Message(lines, account, flood.Message);
                break;
            case LowerTransportKind.SegmentAcknowledgment when SegmentAcknowledgment.TryRead(pdu, out SegmentAcknowledgment ack, out _):
                lines.AddClear(Lower, pdu[..1], "SEG, Opcode", "Segment Acknowledgment");
                lines.AddClear(Lower, pdu.Slice(1, 2), "OBO, SeqZero", $"SeqZero {ack.SeqZero}{(ack.Obo ? ", on behalf of a Low Power node" : "")}");
                lines.AddClear(Lower, pdu[3..], "BlockAck", ack.BlockAck == 0 ? "none: it refuses the message" : "has segments " + Phrases.Runs(ack.BlockAck));
                break;
            case LowerTransportKind.UnsegmentedControl when UnsegmentedControl.TryRead(pdu, out UnsegmentedControl control, out _):
                lines.AddClear(Lower, pdu[..1], "SEG, Opcode", $"unsegmented, opcode 0x{control.Opcode:X2}");
                lines.AddClear(Upper, control.Parameters, "Parameters");
                Message(lines, account, flood.Message);
                break;
            case LowerTransportKind.SegmentedControl when SegmentedControl.TryRead(pdu, out SegmentedControl part, out _):
                lines.AddClear(Lower, pdu[..1], "SEG, Opcode", $"segmented, opcode 0x{part.Opcode:X2}");
                lines.AddClear(Lower, pdu.Slice(1, 3), "SeqZero, SegO, SegN", $"segment {part.SegO} of 0-{part.SegN}, SeqZero {part.SeqZero}");
                lines.AddClear(Lower, part.Segment, "Segment");
                Message(lines, account, flood.Message);
                break;
            default:
                lines.AddClear(Lower, pdu, "malformed", "no lower transport PDU has this form");
                break;
        }
    }

    private static string KeyWords(bool akf, byte aid) => akf ? $"application key, AID 0x{aid:X2}" : "device key";

    private static string TransMicWords(Account account, int? message) =>
        message is { } row && account.History.Messages[row].Decrypted ? "authentic: the key opens it" : "no key opens it";

    private static void Message(OctetLines lines, Account account, int? message)
    {
        if (message is not { } row)
        {
            lines.AddClear(Upper, [], "message", "not known whole: segments are missing");
            return;
        }
        ref MessageRow opened = ref account.History.Messages[row];
        ReadOnlySpan<byte> payload = account.History.PayloadOf(row);
        if (!opened.Decrypted)
        {
            lines.AddClear(Upper, [], "message", FloodWords.NameOf(account, row));
            return;
        }
        string key = opened.IsControl ? "" : opened.AppKey >= 0 ? ", " + NetworkSection.AppKeyName(account.History.Keys.AppKeys[opened.AppKey])
            : opened.Key == MessageKey.Device ? $", device key of {account.Names.Short(opened.DeviceKeyOf)}" : "";
        if (opened.IsControl)
        {
            lines.AddClear(Upper, payload, "Parameters", FloodWords.NameOf(account, row));
            DecodedControl control = ControlReader.Read((byte)opened.Opcode.Value, payload);
            Fields(lines, Upper, control.Fields, "");
            return;
        }
        DecodedMessage decoded = AccessReader.Read(payload, account.Vendor);
        int opcode = Math.Min(payload.Length, decoded.Opcode.Octets);
        lines.AddClear(Access, payload[..opcode], "Opcode", FloodWords.NameOf(account, row) + key);
        if (decoded.Fields.Any(HoldsKey))
            lines.AddClear(Access, [], "Parameters", "hold a key: not shown");
        else if (payload.Length > opcode)
            lines.AddClear(Access, payload[opcode..], "Parameters");
        Fields(lines, Access, decoded.Fields, "");
        if (decoded.Problem.IsProblem)
            lines.AddClear(Access, [], "problem", decoded.Problem.ToString());
    }
}
