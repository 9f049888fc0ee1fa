using System.Globalization;
using MeshTrace.Protocol.LowerTransport;
using PacketDotNet;
using PacketDotNet.Utils;

namespace MeshTrace.Captures.Packets;

/// <summary>A Lower Transport PDU in any of its formats (Mesh Protocol 1.1 §3.5.2); what a format does not have is null.</summary>
/// <remarks>
/// Header: the format's. Payload: the Upper Transport PDU, still encrypted under an application or device key; one segment of it; or the parameters of a
/// control message.
/// </remarks>
public sealed class LowerTransportPacket : MeshPacket
{
    private const int UnsegmentedHeader = 1, SegmentedHeader = 4;

    private LowerTransportPacket(ByteArraySegment octets, LowerTransportKind kind, int headerLength, Packet parent)
    {
        ParentPacket = parent;
        Kind = kind;
        Header = Piece(octets, 0, headerLength);
        PayloadPacketOrData = Data(Piece(octets, headerLength));
    }

    public LowerTransportKind Kind { get; }

    /// <summary>Access: true for an application key, false for a device key.</summary>
    public bool? Akf { get; private init; }

    /// <summary>Access: the application key identifier.</summary>
    public byte? Aid { get; private init; }

    /// <summary>Segmented access: true for a TransMIC of 64 bits.</summary>
    public bool? SzMic { get; private init; }

    /// <summary>Control: which message.</summary>
    public byte? Opcode { get; private init; }

    /// <summary>Segments and their acknowledgment: the low 13 bits of the SEQ of SeqAuth.</summary>
    public ushort? SeqZero { get; private init; }

    /// <summary>Which segment, from 0.</summary>
    public byte? SegO { get; private init; }

    /// <summary>The last segment's number.</summary>
    public byte? SegN { get; private init; }

    /// <summary>Acknowledgment: a Friend acknowledges for its Low Power node.</summary>
    public bool? Obo { get; private init; }

    /// <summary>Acknowledgment: bit n for segment n.</summary>
    public uint? BlockAck { get; private init; }

    /// <inheritdoc />
    public override string Summary
    {
        get
        {
            string text = $"LowerTransportPacket: {Kind}";
            Add("AKF", Akf is { } akf ? akf ? 1 : 0 : null);
            Add("AID", Aid);
            Add("SZMIC", SzMic is { } szMic ? szMic ? 1 : 0 : null);
            Add("Opcode", Opcode);
            Add("SeqZero", SeqZero);
            Add("SegO", SegO);
            Add("SegN", SegN);
            Add("OBO", Obo is { } obo ? obo ? 1 : 0 : null);
            Add("BlockAck", BlockAck);
            return text;

            void Add(string name, long? value) => text += value is { } there ? string.Create(CultureInfo.InvariantCulture, $", {name}={there}") : "";
        }
    }

    internal static LowerTransportPacket? Read(ByteArraySegment octets, bool ctl, Packet parent)
    {
        ReadOnlySpan<byte> pdu = Span(octets);
        LowerTransportKind kind = LowerTransport.KindOf(ctl, pdu);
        switch (kind)
        {
            case LowerTransportKind.UnsegmentedAccess when UnsegmentedAccess.TryRead(pdu, out UnsegmentedAccess access, out _):
                return new LowerTransportPacket(octets, kind, UnsegmentedHeader, parent) { Akf = access.Akf, Aid = access.Aid };
            case LowerTransportKind.SegmentedAccess when SegmentedAccess.TryRead(pdu, out SegmentedAccess access, out _):
                return new LowerTransportPacket(octets, kind, SegmentedHeader, parent)
                {
                    Akf = access.Akf, Aid = access.Aid, SzMic = access.SzMic, SeqZero = access.SeqZero, SegO = access.SegO, SegN = access.SegN,
                };
            case LowerTransportKind.UnsegmentedControl when UnsegmentedControl.TryRead(pdu, out UnsegmentedControl control, out _):
                return new LowerTransportPacket(octets, kind, UnsegmentedHeader, parent) { Opcode = control.Opcode };
            case LowerTransportKind.SegmentedControl when SegmentedControl.TryRead(pdu, out SegmentedControl control, out _):
                return new LowerTransportPacket(octets, kind, SegmentedHeader, parent)
                {
                    Opcode = control.Opcode, SeqZero = control.SeqZero, SegO = control.SegO, SegN = control.SegN,
                };
            case LowerTransportKind.SegmentAcknowledgment when SegmentAcknowledgment.TryRead(pdu, out SegmentAcknowledgment acknowledgment, out _):
                return new LowerTransportPacket(octets, kind, SegmentAcknowledgment.Length, parent)
                {
                    Opcode = 0, Obo = acknowledgment.Obo, SeqZero = acknowledgment.SeqZero, BlockAck = acknowledgment.BlockAck,
                };
            default:
                return null;
        }
    }
}
