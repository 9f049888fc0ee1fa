using System.Globalization;
using MeshTrace.Protocol.Bearer;
using PacketDotNet;
using PacketDotNet.Utils;

namespace MeshTrace.Captures.Packets;

/// <summary>One AD structure (Bluetooth Core Specification, volume 3 part C §11): Length(8) | AD Type(8) | data.</summary>
/// <remarks>
/// Payload: of the mesh bearer's message (AD type 0x2A) the <see cref="NetworkPduPacket"/>. Of any other type the whole structure is header, and the payload
/// is the next structure, so that <c>Extract</c> goes through all of them.
/// </remarks>
public sealed class AdStructurePacket : MeshPacket
{
    private const int HeaderLength = 2;

    private AdStructurePacket(ByteArraySegment rest, int length, Packet parent, PacketKeys? keys)
    {
        ParentPacket = parent;
        Type = (AdType)rest.Bytes[rest.Offset + 1];
        DataSegment = Piece(rest, HeaderLength, length - 1);
        if (Type == AdType.MeshMessage)
        {
            Header = Piece(rest, 0, HeaderLength);
            PayloadPacketOrData = Layer(() => NetworkPduPacket.Read(DataSegment, this, keys), DataSegment);
            return;
        }
        Header = Piece(rest, 0, length + 1);
        ByteArraySegment behind = Piece(rest, length + 1);
        PayloadPacketOrData = Layer(() => Read(behind, this, keys), behind);
    }

    public AdType Type { get; }

    /// <summary>The structure's data.</summary>
    public ByteArraySegment DataSegment { get; }

    /// <inheritdoc />
    public override string Summary => string.Create(CultureInfo.InvariantCulture, $"AdStructurePacket: Type=0x{(byte)Type:X2}, Length={DataSegment.Length + 1}");

    internal static AdStructurePacket? Read(ByteArraySegment rest, Packet parent, PacketKeys? keys)
    {
        // Length 0 ends the data early; a structure longer than what is left is none.
        int length = rest.Length > 0 ? rest.Bytes[rest.Offset] : 0;
        return length == 0 || length >= rest.Length ? null : new AdStructurePacket(rest, length, parent, keys);
    }
}
