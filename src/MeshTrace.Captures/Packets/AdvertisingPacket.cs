using System.Globalization;
using MeshTrace.Protocol.Link;
using PacketDotNet;
using PacketDotNet.Utils;

namespace MeshTrace.Captures.Packets;

/// <summary>An advertising PDU from the air, or an advertising report of a host controller (Bluetooth Core Specification, volume 6 part B §2.3).</summary>
/// <remarks>
/// Header: everything in front of the AD structures. Payload: the first <see cref="AdStructurePacket"/>. CRC octets behind them are in neither. A packet of a
/// connection, and one with a wrong CRC, are not decoded further.
/// </remarks>
public sealed class AdvertisingPacket : MeshPacket
{
    private readonly ByteArraySegment _whole;
    private readonly bool _inPlace = true;

    internal AdvertisingPacket(in Advertisement read, byte[] octets, PacketKeys? keys)
    {
        PduType = read.PduType;
        Advertiser = read.HasAdvertiser ? read.Advertiser : null;
        AdvertiserIsRandom = read.AdvertiserIsRandom;
        Channel = read.Channel;
        RssiDbm = read.RssiDbm;
        Crc = read.Crc;
        Problem = read.Problem;
        IsConnection = read.IsConnection;

        ByteArraySegment whole = _whole = new ByteArraySegment(octets, 0, octets.Length, octets.Length);
        bool decodable = !IsConnection && Crc != CrcCheck.Bad && Problem is LinkProblem.None or LinkProblem.Truncated;
        if (!decodable || read.AdvData.IsEmpty)
        {
            Header = whole;
            PayloadPacketOrData = Data(Piece(whole, whole.Length, 0));
            return;
        }
        // Octets that were whitened on the air stand in clear elsewhere.
        _inPlace = octets.AsSpan().Overlaps(read.AdvData, out int at);
        Header = _inPlace ? Piece(whole, 0, at) : whole;
        ByteArraySegment structures = _inPlace ? Piece(whole, at, read.AdvData.Length) : new ByteArraySegment(read.AdvData.ToArray());
        PayloadPacketOrData = Layer(() => AdStructurePacket.Read(structures, this, keys), structures);
    }

    /// <summary>Null for packets of connections and where it could not be read.</summary>
    public AdvertisingPduType? PduType { get; }

    /// <summary>Device address AdvA, 48 bits, most significant octet highest, or null.</summary>
    public ulong? Advertiser { get; }

    /// <summary>TxAdd: a random device address.</summary>
    public bool AdvertiserIsRandom { get; }

    /// <summary>Channel index 0-39, or null where the capture does not tell it.</summary>
    public int? Channel { get; }

    /// <summary>Strength of reception in dBm, or null.</summary>
    public int? RssiDbm { get; }

    public CrcCheck Crc { get; }

    /// <summary>What is wrong with the frame.</summary>
    public LinkProblem Problem { get; }

    /// <summary>A data channel PDU or HCI ACL data.</summary>
    public bool IsConnection { get; }

    /// <summary>All AD structures, in order.</summary>
    public IEnumerable<AdStructurePacket> AdStructures
    {
        get
        {
            for (Packet? at = PayloadPacket; at is AdStructurePacket structure; at = structure.PayloadPacket)
                yield return structure;
        }
    }

    /// <inheritdoc />
    public override ByteArraySegment BytesSegment => _inPlace ? base.BytesSegment : _whole;

    /// <inheritdoc />
    public override byte[] Bytes => _inPlace ? base.Bytes : Span(_whole).ToArray();

    /// <inheritdoc />
    public override string Summary => string.Create(CultureInfo.InvariantCulture,
        $"AdvertisingPacket: {PduType?.ToString() ?? (IsConnection ? "connection" : "unknown")}, AdvA={Advertiser:X12}, Channel={Channel}, RssiDbm={RssiDbm}, Crc={Crc}, Problem={Problem}");
}
