using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>
/// Frames from the air: AccessAddress(32, low octet first) | CodingIndicator(8, LE Coded only) | PDU | CRC(24), behind the header of their
/// link type.
/// </summary>
internal static class LeFrameReader
{
    /// <summary>Access address of all advertising channel packets but those of periodic advertising.</summary>
    public const uint AdvertisingAccessAddress = 0x8E89BED6;

    private const int AccessAddressLength = 4;
    private const int LongestPdu = AdvertisingPdu.HeaderLength + 255;

    [ThreadStatic]
    private static byte[]? dewhitened;

    /// <summary>What the header of a frame tells about the packet behind it.</summary>
    private struct Reception
    {
        public sbyte Channel;
        public short RssiDbm;
        public CrcCheck ToldCrc;
        public bool IsCoded;
        public bool MayBeCoded;        // no header tells: the length decides
        public bool HeaderSaysWhole;    // by the header's own length no octet is missing
        public bool RefersToAdvertising;
        public bool ChannelIsRf;       // Channel holds an RF channel, not yet an index
        public bool ChannelIsUncertain;
        public int PduType;            // of RadioHeader
        public PacketSide Side;        // of packets of connections
        public bool IsDecrypted;
    }

    /// <summary>Link type 251: the packet alone.</summary>
    public static bool ReadBare(in CapturedFrame frame, out Advertisement advertisement)
    {
        Reception reception = default;
        reception.Channel = Advertisement.NoChannel;
        reception.RssiDbm = Advertisement.NoRssi;
        reception.MayBeCoded = true;
        Read(frame.Octets, frame.MarkedCrcBad, in reception, out advertisement);
        return true;
    }

    /// <summary>Link type 256.</summary>
    public static bool ReadWithRadioHeader(in CapturedFrame frame, out Advertisement advertisement)
    {
        if (frame.Octets.Length < RadioHeader.Length)
        {
            advertisement = new Advertisement(LinkProblem.Truncated);
            return true;
        }
        var header = new RadioHeader(frame.Octets);
        Reception reception = default;
        reception.Channel = header.RfChannel < LeChannel.Count ? (sbyte)header.RfChannel : Advertisement.NoChannel;
        reception.ChannelIsRf = header.RfChannel < LeChannel.Count;
        reception.ChannelIsUncertain = !header.IsRfChannelCertain;
        reception.RssiDbm = header.RssiDbm;
        reception.ToldCrc = header.Crc;
        reception.IsCoded = header.IsCoded;
        reception.RefersToAdvertising = header.RefersToAdvertising;
        reception.PduType = header.PduType;
        reception.Side = header.Side;
        reception.IsDecrypted = header.IsDecrypted;
        ReadOnlySpan<byte> packet = frame.Octets[RadioHeader.Length..];
        if (!header.IsDewhitened)
            packet = Dewhiten(packet, in reception);
        Read(packet, frame.MarkedCrcBad, in reception, out advertisement);
        return true;
    }

    /// <summary>Link type 272; false for packets of the board that are no LE packet.</summary>
    public static bool ReadWithBoardHeader(in CapturedFrame frame, out Advertisement advertisement)
    {
        ReadOnlySpan<byte> octets = frame.Octets;
        advertisement = new Advertisement(LinkProblem.Truncated);
        if (octets.Length > 3 && BoardHeader.VersionOf(octets) is not (1 or 2))
        {
            advertisement = new Advertisement(LinkProblem.UnsupportedHeaderVersion);
            return true;
        }
        if (octets.Length >= BoardHeader.FrontLength && BoardHeader.PacketTypeOf(octets) != BoardHeader.LePacket)
        {
            advertisement = default;
            return false;
        }
        if (octets.Length < BoardHeader.Length)
            return true;
        var header = new BoardHeader(octets);
        Reception reception = default;
        reception.Channel = header.Channel;
        reception.RssiDbm = header.RssiDbm;
        reception.ToldCrc = header.Crc;
        reception.Side = header.Side;
        reception.MayBeCoded = true;
        ReadOnlySpan<byte> packet = octets[BoardHeader.Length..];
        int told = header.PayloadLength - BoardHeader.PayloadHeaderLength;
        if (told < 0 || !header.HasKnownPayloadHeader)
            advertisement = new Advertisement(LinkProblem.Malformed);
        else
        {
            reception.HeaderSaysWhole = packet.Length >= told;
            Read(packet.Length > told ? packet[..told] : packet, frame.MarkedCrcBad, in reception, out advertisement);
        }
        return true;
    }

    private static void Read(ReadOnlySpan<byte> packet, bool markedBad, scoped in Reception reception, out Advertisement advertisement)
    {
        CrcCheck told = markedBad ? CrcCheck.Bad : reception.ToldCrc;
        LinkProblem missing = reception.HeaderSaysWhole ? LinkProblem.Malformed : LinkProblem.Truncated;
        int pduAt = AccessAddressLength + (reception.IsCoded ? 1 : 0);
        advertisement = default;
        advertisement.PduTypeOrNone = Advertisement.NoPduType;
        advertisement.ChannelOrNone = Advertisement.NoChannel;
        advertisement.RssiOrNone = reception.RssiDbm;
        if (packet.Length < pduAt + AdvertisingPdu.HeaderLength)
        {
            advertisement.Crc = told;
            advertisement.Problem = missing;
            return;
        }
        int needed = pduAt + AdvertisingPdu.HeaderLength + packet[pduAt + 1] + Crc24.Length;
        if (packet.Length != needed && reception.MayBeCoded && IsCodedByLength(packet))
        {
            pduAt++;
            needed = packet.Length;
        }
        bool whole = packet.Length >= needed;   // octets behind the CRC are not looked at
        ReadOnlySpan<byte> pdu = packet[pduAt..(whole ? needed - Crc24.Length : Math.Min(packet.Length, needed - Crc24.Length))];

        bool isAdvertising = BinaryPrimitives.ReadUInt32LittleEndian(packet) == AdvertisingAccessAddress || reception.RefersToAdvertising;
        if (!isAdvertising && reception.PduType != RadioHeader.PduTypeAuxiliary)
        {
            advertisement.ChannelOrNone = IndexOf(in reception, isLegacy: false);
            advertisement.IsConnection = reception.PduType != RadioHeader.PduTypeBroadcastIsochronous;
            ReadDataChannel(packet, pduAt, told, missing, in reception, ref advertisement);
            return;
        }

        CrcCheck crc = told;
        // The CRC of periodic advertising begins with a value from its SyncInfo, which is not at hand.
        if (whole && isAdvertising && told != CrcCheck.Bad)
            crc = Check(pdu, packet.Slice(needed - Crc24.Length, Crc24.Length), told);
        advertisement.Crc = crc;
        advertisement.Problem = Judge(crc, whole, missing);
        advertisement.ChannelOrNone = IndexOf(in reception, isLegacy: (pdu[0] & 0x0F) < (int)AdvertisingPduType.AdvExtInd);
        ReadPdu(pdu, ref advertisement);
    }

    /// <summary>A packet of a connection: whether its CRC is right, only CRCInit of that connection tells, which is not at hand.</summary>
    private static void ReadDataChannel(
        ReadOnlySpan<byte> packet, int pduAt, CrcCheck told, LinkProblem missing, scoped in Reception reception, ref Advertisement advertisement)
    {
        int length = DataChannelPdu.LengthOf(packet[pduAt..]);
        bool whole = packet.Length >= pduAt + length + Crc24.Length;
        advertisement.Crc = told;
        advertisement.Problem = Judge(told, whole, missing);
        advertisement.AccessAddress = BinaryPrimitives.ReadUInt32LittleEndian(packet);
        advertisement.Side = reception.Side;
        advertisement.IsDecrypted = reception.IsDecrypted;
        if (!whole)
            return;
        advertisement.Pdu = packet.Slice(pduAt, length);
        ReadOnlySpan<byte> crc = packet.Slice(pduAt + length, Crc24.Length);
        advertisement.CrcOctets = (uint)(crc[0] | (crc[1] << 8) | (crc[2] << 16));
    }

    /// <summary>The octets decide, not the mark: what does not fit its CRC is not what was received.</summary>
    private static CrcCheck Check(ReadOnlySpan<byte> pdu, ReadOnlySpan<byte> crc, CrcCheck told)
    {
        if (Crc24.IsRight(pdu, crc))
            return CrcCheck.Ok;
        // A radio that strips the CRC after checking it leaves nothing to record but zeros (common practice, no source).
        return told == CrcCheck.Ok && (crc[0] | crc[1] | crc[2]) == 0 ? CrcCheck.Ok : CrcCheck.Bad;
    }

    private static LinkProblem Judge(CrcCheck crc, bool whole, LinkProblem missing) =>
        crc == CrcCheck.Bad ? LinkProblem.BadCrc : whole ? LinkProblem.None : missing;

    private static void ReadPdu(ReadOnlySpan<byte> pdu, ref Advertisement advertisement)
    {
        AdvertisingPduType type = (AdvertisingPduType)(pdu[0] & 0x0F);
        ReadOnlySpan<byte> payload = pdu[AdvertisingPdu.HeaderLength..];
        advertisement.PduTypeOrNone = (byte)type;
        advertisement.AdvertiserIsRandom = (pdu[0] & 0x40) != 0;
        advertisement.Pdu = pdu;
        bool isWellFormed = AdvertisingPdu.LengthFits(type, pdu[1]);
        if (AdvertisingPdu.BeginsWithAdvertiser(type))
        {
            if (payload.Length >= AdvertisingPdu.AddressLength)
            {
                advertisement.HasAdvertiser = true;
                advertisement.Advertiser = AdvertisingPdu.ReadAddress(payload);
                if (type != AdvertisingPduType.AdvDirectInd)
                    advertisement.AdvData = payload[AdvertisingPdu.AddressLength..];
            }
        }
        else if (type is AdvertisingPduType.AdvExtInd or AdvertisingPduType.AuxConnectRsp)
        {
            isWellFormed = ExtendedAdvertisingHeader.TryRead(payload, out ExtendedAdvertisingHeader extended, out _);
            if (isWellFormed)
            {
                advertisement.HasAdvertiser = extended.HasAdvA;
                advertisement.Advertiser = extended.AdvA;
                advertisement.AdvData = extended.AdvData;
            }
        }
        if (!isWellFormed && advertisement.Problem == LinkProblem.None)
            advertisement.Problem = LinkProblem.Malformed;
    }

    /// <summary>The channel index to report.</summary>
    private static sbyte IndexOf(scoped in Reception reception, bool isLegacy)
    {
        if (!reception.ChannelIsRf)
            return reception.Channel;
        if (reception.ChannelIsUncertain)
            return Advertisement.NoChannel;
        // Legacy advertising is sent on RF channels 0, 12 and 39 only: 37 or 38 shows that the writer stored the channel index
        // (common practice, no source).
        if (isLegacy && reception.PduType == RadioHeader.PduTypeNotTold && reception.Channel is 37 or 38)
            return reception.Channel;
        return (sbyte)LeChannel.RfToIndex[reception.Channel];
    }

    /// <summary>Without a word on the PHY: a packet one octet longer than its Length says, with a coding indicator of 0 or 1 in front of a
    /// PDU that fits.</summary>
    private static bool IsCodedByLength(ReadOnlySpan<byte> packet) =>
        packet.Length > AccessAddressLength + 1 + AdvertisingPdu.HeaderLength
        && packet[AccessAddressLength] <= 1
        && packet.Length == AccessAddressLength + 1 + AdvertisingPdu.HeaderLength + packet[AccessAddressLength + 2] + Crc24.Length;

    /// <summary>The packet with PDU and CRC dewhitened, in a buffer of this thread.</summary>
    private static ReadOnlySpan<byte> Dewhiten(ReadOnlySpan<byte> packet, scoped in Reception reception)
    {
        int pduAt = AccessAddressLength + (reception.IsCoded ? 1 : 0);
        if (packet.Length <= pduAt || !reception.ChannelIsRf || FitsAsItIs(packet, pduAt))
            return packet;
        byte[] buffer = dewhitened ??= new byte[AccessAddressLength + 1 + LongestPdu + Crc24.Length];
        int length = Math.Min(packet.Length, buffer.Length);
        packet[..length].CopyTo(buffer);
        // Which PDU type it is cannot be read yet. The advertising access address with RF channel 37 or 38: see IndexOf.
        bool isLegacy = BinaryPrimitives.ReadUInt32LittleEndian(packet) == AdvertisingAccessAddress;
        Reception certain = reception;
        certain.ChannelIsUncertain = false;
        Whitening.Apply(buffer.AsSpan(pduAt, length - pduAt), IndexOf(in certain, isLegacy));
        return buffer.AsSpan(0, length);
    }

    /// <summary>Some writers leave the flag clear over a dewhitened packet; its CRC gives them away (common practice, no source).</summary>
    private static bool FitsAsItIs(ReadOnlySpan<byte> packet, int pduAt)
    {
        if (packet.Length < pduAt + AdvertisingPdu.HeaderLength)
            return false;
        int crcAt = pduAt + AdvertisingPdu.HeaderLength + packet[pduAt + 1];
        return packet.Length >= crcAt + Crc24.Length && Crc24.IsRight(packet[pduAt..crcAt], packet.Slice(crcAt, Crc24.Length));
    }
}
