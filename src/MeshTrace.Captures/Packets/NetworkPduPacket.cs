using System.Globalization;
using MeshTrace.Protocol.Network;
using PacketDotNet;
using PacketDotNet.Utils;

namespace MeshTrace.Captures.Packets;

/// <summary>A Network PDU as it is on the air, obfuscated and encrypted (Mesh Protocol 1.1 §3.4.4).</summary>
/// <remarks>
/// Header: the whole PDU. Payload: where a key fits, the <see cref="ClearNetworkPacket"/>, whose octets are its own; <see cref="BytesSegment"/> stays what was
/// on the air.
/// </remarks>
public sealed class NetworkPduPacket : MeshPacket
{
    private NetworkPduPacket(ByteArraySegment octets, Packet parent, PacketKeys? keys)
    {
        ParentPacket = parent;
        Header = octets;
        PayloadPacketOrData = Layer(() => Open(keys), Piece(octets, octets.Length, 0));
    }

    /// <summary>The least significant bit of the IV index that the PDU was made with.</summary>
    public bool Ivi => (Header.Bytes[Header.Offset] & 0x80) != 0;

    /// <summary>Which network security material the PDU may have been made with.</summary>
    public byte Nid => (byte)(Header.Bytes[Header.Offset] & 0x7F);

    /// <inheritdoc />
    public override ByteArraySegment BytesSegment => Header;

    /// <inheritdoc />
    public override byte[] Bytes => Span(Header).ToArray();

    /// <inheritdoc />
    public override string Summary => string.Create(CultureInfo.InvariantCulture, $"NetworkPduPacket: IVI={(Ivi ? 1 : 0)}, NID=0x{Nid:x2}, Length={Header.Length}");

    internal static NetworkPduPacket? Read(ByteArraySegment octets, Packet parent, PacketKeys? keys) =>
        NetworkPdu.TryRead(Span(octets), out _, out _) ? new NetworkPduPacket(octets, parent, keys) : null;

    private ClearNetworkPacket? Open(PacketKeys? keys) =>
        keys is not null && NetworkPdu.TryRead(Span(Header), out NetworkPdu pdu, out _) && keys.Open(pdu, out uint ivIndex) is { } clear
            ? ClearNetworkPacket.Read(clear, ivIndex, this) : null;
}
