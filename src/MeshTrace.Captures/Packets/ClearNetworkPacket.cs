using System.Globalization;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Network;
using PacketDotNet;
using PacketDotNet.Utils;

namespace MeshTrace.Captures.Packets;

/// <summary>A Network PDU after deobfuscation and decryption, without its NetMIC, which was right (Mesh Protocol 1.1 §3.4.4).</summary>
/// <remarks>Header: IVI(1) | NID(7) | CTL(1) | TTL(7) | SEQ(24) | SRC(16) | DST(16). Payload: the <see cref="LowerTransportPacket"/>.</remarks>
public sealed class ClearNetworkPacket : MeshPacket
{
    private readonly byte[] _octets;

    private ClearNetworkPacket(byte[] octets, uint ivIndex, Packet parent)
    {
        ParentPacket = parent;
        IvIndex = ivIndex;
        _octets = octets;
        var whole = new ByteArraySegment(octets);
        Header = Piece(whole, 0, ClearNetworkPdu.HeaderLength);
        ByteArraySegment transport = Piece(whole, ClearNetworkPdu.HeaderLength);
        PayloadPacketOrData = Layer(() => LowerTransportPacket.Read(transport, Ctl, this), transport);
    }

    /// <summary>The IV index with which it was opened.</summary>
    public uint IvIndex { get; }

    /// <summary>True for a control message.</summary>
    public bool Ctl => Pdu.Ctl;

    /// <summary>Time to live, 0-127.</summary>
    public byte Ttl => Pdu.Ttl;

    /// <summary>The 24-bit sequence number of the source element.</summary>
    public uint Seq => Pdu.Seq;

    public MeshAddress Src => Pdu.Src;

    public MeshAddress Dst => Pdu.Dst;

    /// <inheritdoc />
    public override string Summary => string.Create(CultureInfo.InvariantCulture, $"ClearNetworkPacket: CTL={(Ctl ? 1 : 0)}, TTL={Ttl}, SEQ={Seq}, SRC={Src}, DST={Dst}");

    private ClearNetworkPdu Pdu
    {
        get
        {
            ClearNetworkPdu.TryRead(_octets, out ClearNetworkPdu pdu, out _);       // was asked when this was made
            return pdu;
        }
    }

    internal static ClearNetworkPacket? Read(byte[] octets, uint ivIndex, Packet parent) =>
        ClearNetworkPdu.TryRead(octets, out _, out _) ? new ClearNetworkPacket(octets, ivIndex, parent) : null;
}
