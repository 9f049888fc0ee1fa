using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.UpperTransport;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Makes the Lower Transport PDU of a flood again: its message with pseudonyms, encrypted under the fresh key, and cut into the same segments. What no key
/// opened becomes other octets.
/// </summary>
internal sealed class TransportRedactor(CaptureHistory history, Pseudonyms pseudonyms, PayloadRedactor payloads)
{
    private const int Slots = 256;      // segments of a message come close together

    private readonly (int Message, byte[] Upper)[] _recent = new (int, byte[])[Slots];

    /// <summary>Destination of a flood: a virtual one is that of the label that opened its message.</summary>
    public MeshAddress DstOf(in FloodRow flood) => flood.Message is { } row ? DstOf(in history.Messages[row], flood.Dst) : pseudonyms.Addresses.Of(flood.Dst);

    /// <summary>Writes the PDU; it has the length of the flood's own.</summary>
    public void Write(in FloodRow flood, Span<byte> pdu)
    {
        ReadOnlySpan<byte> own = flood.TransportPdu;
        own.CopyTo(pdu);
        pdu = pdu[..own.Length];
        LowerTransportKind kind = LowerTransport.KindOf(flood.Ctl, own);
        if (kind is LowerTransportKind.UnsegmentedAccess or LowerTransportKind.SegmentedAccess && (own[0] & 0x40) != 0)
            pdu[0] = (byte)((own[0] & 0xC0) | (flood.Message is { } message && history.Messages[message].AppKey is >= 0 and var key ? pseudonyms.AppKey(key).Aid : pseudonyms.Aid((byte)(own[0] & 0x3F))));
        switch (kind)
        {
            case LowerTransportKind.SegmentAcknowledgment when SegmentAcknowledgment.TryRead(own, out _, out _):
                return;
            case LowerTransportKind.SegmentedAccess when SegmentedAccess.TryRead(own, out SegmentedAccess segment, out _):
                Fill(flood.Message, segment.SegO * SegmentedAccess.SegmentLength, pdu[^segment.Segment.Length..]);
                return;
            case LowerTransportKind.SegmentedControl when SegmentedControl.TryRead(own, out SegmentedControl segment, out _):
                Fill(flood.Message, segment.SegO * SegmentedControl.SegmentLength, pdu[^segment.Segment.Length..]);
                return;
            default:
                Fill(flood.Message, 0, pdu[Math.Min(1, pdu.Length)..]);
                return;
        }
    }

    /// <summary>Puts a part of a message in, or other octets where it was not opened.</summary>
    private void Fill(int? message, int at, Span<byte> part)
    {
        if (message is { } row && history.Messages[row].Decrypted && UpperPdu(row) is var upper && at + part.Length <= upper.Length)
            upper.AsSpan(at, part.Length).CopyTo(part);
        else
            pseudonyms.Octets(part);
    }

    private byte[] UpperPdu(int row)
    {
        ref (int Message, byte[] Upper) slot = ref _recent[row % Slots];
        if (slot.Upper is null || slot.Message != row)
            slot = (row, Encrypt(row));
        return slot.Upper;
    }

    private byte[] Encrypt(int row)
    {
        ref MessageRow message = ref history.Messages[row];
        if (message.IsControl)
            return payloads.Control((byte)message.Opcode.Value, history.PayloadOf(row));
        byte[] payload = payloads.Access(history.PayloadOf(row));
        byte[] upper = new byte[payload.Length + (message.TransMicBits / 8)];
        bool isDevice = message.Key == MessageKey.Device;
        AesKey key = isDevice ? pseudonyms.DeviceKey(message.DeviceKeyOf) : pseudonyms.AppKey(message.AppKey).Key;
        ReadOnlySpan<byte> label = message.Label < 0 ? [] : pseudonyms.Addresses.Of(history.Keys.Labels[message.Label].Uuid).ToByteArray(bigEndian: true);
        UpperTransport.Encrypt(payload, key, isDevice, message.TransMicBits == 64, message.Seq, pseudonyms.Addresses.Of(message.Src), DstOf(in message, message.Dst), message.IvIndex, label, upper);
        return upper;
    }

    private MeshAddress DstOf(in MessageRow message, MeshAddress dst) =>
        message.Label < 0 ? pseudonyms.Addresses.Of(dst) : VirtualAddress.Of(pseudonyms.Addresses.Of(history.Keys.Labels[message.Label].Uuid).ToByteArray(bigEndian: true));
}
