using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Makes a captured frame again: header, time, channel and strength as they are, every device address and all data behind it with pseudonyms, the CRC right or
/// wrong as it was. What cannot be read, because it is damaged or cut, keeps its place and loses its octets: receivers count what they give, and a hole would
/// look like a loss.
/// </summary>
internal sealed class FrameRedactor(Pseudonyms pseudonyms, AdvertisingDataRedactor data, ConnectionRedactor connections)
{
    private const int AccessAddressOctets = 4, AddressOctets = AdvertisingPdu.AddressLength;

    /// <summary>Offsets within an HCI event: subevent code; and before the data of a report, its own address, and that which it is directed to.</summary>
    private const int SubeventAt = 2, LegacyAddressBefore = 7, ExtendedAddressBefore = 21, DirectAddressBefore = 7, RssiOctets = 1;

    /// <summary>Writes what takes a frame's place.</summary>
    /// <param name="row">Of the frame.</param>
    /// <param name="frame">As captured.</param>
    /// <param name="octets">As long as the frame's own.</param>
    /// <returns>False for what is left out: what a host's log tells beside advertising and connections, and lines of text logs.</returns>
    public bool TryRedact(int row, in CapturedFrame frame, Span<byte> octets)
    {
        if (frame.LinkType == LinkType.TextLog)
            return false;
        frame.Octets.CopyTo(octets);
        if (frame.LinkType.IsHostLog)
            return TryRedactConnection(row, in frame, octets) || TryRedactReports(in frame, octets);
        RedactPacket(row, in frame, octets);
        return true;
    }

    private void RedactPacket(int row, in CapturedFrame frame, Span<byte> octets)
    {
        int position = 0;
        if (!LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            octets[Math.Min(LeLinkLayerWriter.BoardFrontLength, octets.Length)..].Clear();      // what a board sends beside LE packets, counted with them
            return;
        }
        int packetAt = HeaderOf(frame.LinkType);
        if (advertisement.Pdu.IsEmpty)
        {
            EmptyUnread(in advertisement, octets, packetAt);
            return;
        }
        bool isWhole = advertisement.Problem is LinkProblem.None or LinkProblem.Malformed && advertisement.Crc != CrcCheck.Bad;
        int pduAt = PlaceOf(in frame, advertisement.Pdu) ?? Dewhiten(in frame, advertisement.Pdu, octets);
        Span<byte> pdu = octets[pduAt..Math.Min(octets.Length, pduAt + advertisement.Pdu.Length)], rest = octets[(pduAt + pdu.Length)..];
        uint crcInitial = Crc24.AdvertisingInitial;
        if (advertisement.IsConnection && ConnectionReader.TryRead(in frame, in advertisement, out ConnectionPacket packet))
        {
            // Whatever the CRC began with, and whether it was right or wrong: with the same beginning it stays what it was.
            crcInitial = Crc24.InitialOf(packet.Octets, packet.CrcOctets);
            pdu[DataHeaderOf(pdu)..].Clear();
            connections.Apply(row, octets[..(pduAt + pdu.Length)]);
        }
        else if (isWhole)
            Redact(pdu);
        else if (pdu.Length > AdvertisingPdu.HeaderLength)
            pdu[AdvertisingPdu.HeaderLength..].Clear();
        bool hadCrc = rest.Length >= Crc24.Length && !IsStripped(rest);
        rest.Clear();
        if (hadCrc)
            Crc24.Write(rest, Crc24.Compute(pdu, crcInitial) ^ (advertisement.Crc == CrcCheck.Bad && !advertisement.IsConnection ? 1u : 0u));
    }

    /// <summary>CTEInfo, where there is one, belongs to the header of a data channel PDU.</summary>
    private static int DataHeaderOf(ReadOnlySpan<byte> pdu) => DataChannelPdu.TryRead(pdu, out DataChannelPdu read, out _) ? pdu.Length - read.Payload.Length : DataChannelPdu.HeaderLength;

    /// <summary>A frame in which no PDU was found: cut, or of a header that is not known. It stays what it is.</summary>
    private static void EmptyUnread(in Advertisement advertisement, Span<byte> octets, int packetAt)
    {
        const int versionAt = 3;
        int pduAt = packetAt + AccessAddressOctets;
        byte version = octets.Length > versionAt ? octets[versionAt] : (byte)0;
        if (advertisement.IsConnection && octets.Length >= pduAt + DataChannelPdu.HeaderLength)
        {
            octets[(pduAt + DataChannelPdu.HeaderLength)..].Clear();        // the length in front of it says that octets are missing
            return;
        }
        octets[(advertisement.Problem == LinkProblem.UnsupportedHeaderVersion ? 0 : Math.Min(packetAt, octets.Length))..].Clear();
        if (advertisement.Problem == LinkProblem.UnsupportedHeaderVersion)
            octets[versionAt] = version;
    }

    /// <summary>Zeros in the place of the CRC stand where a radio took it away.</summary>
    private static bool IsStripped(ReadOnlySpan<byte> rest) => !rest[..Crc24.Length].ContainsAnyExcept((byte)0);

    private static int HeaderOf(LinkType linkType) => linkType.Number switch
    {
        256 => LeLinkLayerWriter.RadioHeaderLength,
        272 => LeLinkLayerWriter.BoardHeaderLength,
        _ => 0,
    };

    /// <summary>Where a part of a frame begins in it; null where it lies elsewhere.</summary>
    private static int? PlaceOf(scoped in CapturedFrame frame, ReadOnlySpan<byte> part)
    {
        nint at = Unsafe.ByteOffset(ref MemoryMarshal.GetReference(frame.Octets), ref MemoryMarshal.GetReference(part));
        return at >= 0 && at + part.Length <= frame.Octets.Length ? (int)at : null;
    }

    /// <summary>A whitened packet is written dewhitened, and its header says so.</summary>
    private static int Dewhiten(in CapturedFrame frame, ReadOnlySpan<byte> pdu, Span<byte> octets)
    {
        int at = LeLinkLayerWriter.MarkDewhitened(octets);
        octets[at..].Clear();
        pdu[..Math.Min(pdu.Length, frame.Octets.Length - at)].CopyTo(octets[at..]);
        if (octets.Length >= at + pdu.Length + Crc24.Length)
            octets[at + pdu.Length] = 1;        // any octet: there was a CRC
        return at;
    }

    private void Redact(Span<byte> pdu)
    {
        bool sender = (pdu[0] & 0x40) != 0, target = (pdu[0] & 0x80) != 0;
        Span<byte> payload = pdu[AdvertisingPdu.HeaderLength..];
        switch ((AdvertisingPduType)(pdu[0] & 0x0F))
        {
            case AdvertisingPduType.AdvInd or AdvertisingPduType.AdvNonconnInd or AdvertisingPduType.AdvScanInd or AdvertisingPduType.ScanRsp when payload.Length >= AddressOctets:
                pseudonyms.DeviceAddress(payload[..AddressOctets], sender);
                data.Redact(payload[AddressOctets..]);
                break;
            case AdvertisingPduType.AdvDirectInd or AdvertisingPduType.ScanReq or AdvertisingPduType.ConnectInd when payload.Length >= 2 * AddressOctets:
                pseudonyms.DeviceAddress(payload[..AddressOctets], sender);
                pseudonyms.DeviceAddress(payload.Slice(AddressOctets, AddressOctets), target);
                payload[Math.Min(payload.Length, (2 * AddressOctets) + ((pdu[0] & 0x0F) == (int)AdvertisingPduType.ConnectInd ? ConnectIndData.Length : 0))..].Clear();
                break;
            case AdvertisingPduType.AdvExtInd or AdvertisingPduType.AuxConnectRsp when ExtendedAdvertisingHeader.TryRead(payload, out ExtendedAdvertisingHeader header, out _):
                RedactExtended(payload, payload.Length - header.AdvData.Length, header.HasAdvA, header.HasTargetA, sender, target);
                break;
            default:
                payload.Clear();
                break;
        }
    }

    /// <summary>Flags and addresses stay; what lies behind them up to the data tells when and where to find more, which is in no capture.</summary>
    private void RedactExtended(Span<byte> payload, int dataAt, bool hasAdvA, bool hasTargetA, bool sender, bool target)
    {
        const int flagsEnd = 2;
        int at = Math.Min(flagsEnd, dataAt);
        foreach ((bool has, bool random) in ((bool, bool)[])[(hasAdvA, sender), (hasTargetA, target)])
        {
            if (!has)
                continue;
            pseudonyms.DeviceAddress(payload.Slice(at, AddressOctets), random);
            at += AddressOctets;
        }
        payload[at..dataAt].Clear();
        data.Redact(payload[dataAt..]);
    }

    /// <summary>Of a host's log: ACL data, and events that tell of connections.</summary>
    private bool TryRedactConnection(int row, in CapturedFrame frame, Span<byte> octets)
    {
        const int peerTypeAt = 7, peerAt = 8, shortEventOctets = 6;
        if (!ConnectionReader.TryRead(in frame, default, out ConnectionPacket packet))
            return false;
        int at = octets.Length - packet.Octets.Length;
        if (packet.Kind == ConnectionPacketKind.Acl)
        {
            octets[Math.Min(octets.Length, at + HciAclPacket.HeaderLength)..].Clear();
            connections.Apply(row, octets);
            return true;
        }
        if (!HciLeEvent.TryRead(packet.Octets, out HciLeEvent happened, out _))
            return false;
        if (happened.Change != HciConnectionChange.Connected)
        {
            octets[(at + shortEventOctets)..].Clear();
            return true;
        }
        int peer = at + peerAt;
        pseudonyms.DeviceAddress(octets.Slice(peer, AddressOctets), (octets[at + peerTypeAt] & 1) != 0);
        octets[(peer + AddressOctets)..].Clear();       // other addresses of the two, intervals
        return true;
    }

    private bool TryRedactReports(in CapturedFrame frame, Span<byte> octets)
    {
        int position = 0, eventAt = EventIn(frame.LinkType), end = octets.Length;
        bool any = false;
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            if (PlaceOf(in frame, advertisement.AdvData) is not { } dataAt || octets.Length <= eventAt + SubeventAt)
            {
                octets[Math.Min(octets.Length, eventAt)..].Clear();     // a report that does not fit its event: what stands where is not known
                return true;
            }
            any = true;
            bool isExtended = octets[eventAt + SubeventAt] == HciReportWriter.ExtendedSubevent;
            end = dataAt + advertisement.AdvData.Length + (isExtended ? 0 : RssiOctets);
            int address = dataAt - (isExtended ? ExtendedAddressBefore : LegacyAddressBefore);
            pseudonyms.DeviceAddress(octets.Slice(address, AddressOctets), advertisement.AdvertiserIsRandom);
            if (isExtended)
                pseudonyms.DeviceAddress(octets.Slice(dataAt - DirectAddressBefore, AddressOctets), random: (octets[dataAt - DirectAddressBefore - 1] & 1) != 0);
            data.Redact(octets.Slice(dataAt, advertisement.AdvData.Length));
        }
        octets[end..].Clear();      // behind the last report
        return any;
    }

    /// <summary>Where the event code stands.</summary>
    private static int EventIn(LinkType linkType) => linkType.Number switch
    {
        201 => 5,       // direction, indicator
        254 => 4,       // adapter, opcode
        187 => 1,       // indicator
        _ => 0,
    };
}
