using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Makes a captured frame again: header, time, channel and strength as they are, every device address and all data behind it with pseudonyms, the CRC right or
/// wrong as it was. What cannot be read, because it is damaged or cut, keeps its place and loses its octets; so do packets of connections: receivers count what
/// they give, and a hole would look like a loss.
/// </summary>
internal sealed class FrameRedactor(Pseudonyms pseudonyms, AdvertisingDataRedactor data)
{
    /// <summary>A PDU type that is reserved for future use: nothing is known of its payload.</summary>
    private const byte ReservedPduType = 0x0F;

    private const int AccessAddressOctets = 4, AddressOctets = AdvertisingPdu.AddressLength;

    /// <summary>Offsets within an HCI event: subevent code; and before the data of a report, its own address, and that which it is directed to.</summary>
    private const int SubeventAt = 2, LegacyAddressBefore = 7, ExtendedAddressBefore = 21, DirectAddressBefore = 7, RssiOctets = 1;

    /// <summary>Packets of connections of which the place was kept.</summary>
    public long Emptied { get; private set; }

    public void StartOver() => Emptied = 0;

    /// <summary>Writes what takes a frame's place.</summary>
    /// <param name="frame">As captured.</param>
    /// <param name="octets">As long as the frame's own.</param>
    /// <returns>False for what is left out: what a host's log tells beside advertising, and lines of text logs.</returns>
    public bool TryRedact(in CapturedFrame frame, Span<byte> octets)
    {
        if (frame.LinkType == LinkType.TextLog)
            return false;
        frame.Octets.CopyTo(octets);
        return frame.LinkType.IsHostLog ? TryRedactReports(in frame, octets) : TryRedactPacket(in frame, octets);
    }

    private bool TryRedactPacket(in CapturedFrame frame, Span<byte> octets)
    {
        int position = 0;
        if (!LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            octets[Math.Min(LeLinkLayerWriter.BoardFrontLength, octets.Length)..].Clear();      // what a board sends beside LE packets, counted with them
            return true;
        }
        int packetAt = HeaderOf(frame.LinkType);
        if (advertisement.Pdu.IsEmpty)
        {
            EmptyUnread(in advertisement, frame.LinkType, octets, packetAt);
            return true;
        }
        bool isWhole = advertisement.Problem is LinkProblem.None or LinkProblem.Malformed && advertisement.Crc != CrcCheck.Bad;
        int pduAt = PlaceOf(in frame, advertisement.Pdu) ?? Dewhiten(in frame, advertisement.Pdu, octets);
        Span<byte> pdu = octets[pduAt..Math.Min(octets.Length, pduAt + advertisement.Pdu.Length)], rest = octets[(pduAt + pdu.Length)..];
        if (advertisement.TellsOfConnection)
        {
            Emptied++;
            LeLinkLayerWriter.MarkAdvertising(octets, frame.LinkType);
            pdu.Clear();
            (pdu[0], pdu[1]) = (ReservedPduType, (byte)(pdu.Length - AdvertisingPdu.HeaderLength));
        }
        else if (isWhole)
            Redact(pdu);
        else if (pdu.Length > AdvertisingPdu.HeaderLength)
            pdu[AdvertisingPdu.HeaderLength..].Clear();
        bool hadCrc = rest.Length >= Crc24.Length && !IsStripped(rest);
        rest.Clear();
        if (hadCrc)
            Crc24.Write(rest, Crc24.Compute(pdu) ^ (advertisement.Crc == CrcCheck.Bad ? 1u : 0u));
        return true;
    }

    /// <summary>A frame in which no PDU was found: cut, or of a header that is not known. It stays what it is.</summary>
    private void EmptyUnread(in Advertisement advertisement, LinkType linkType, Span<byte> octets, int packetAt)
    {
        const int versionAt = 3;
        int pduAt = packetAt + AccessAddressOctets;
        byte version = octets.Length > versionAt ? octets[versionAt] : (byte)0;
        if (advertisement.TellsOfConnection && octets.Length >= pduAt + AdvertisingPdu.HeaderLength)
        {
            Emptied++;
            LeLinkLayerWriter.MarkAdvertising(octets, linkType);
            octets[pduAt] = ReservedPduType;        // the length behind it says that octets are missing
            octets[(pduAt + AdvertisingPdu.HeaderLength)..].Clear();
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
            case AdvertisingPduType.AdvDirectInd or AdvertisingPduType.ScanReq when payload.Length >= 2 * AddressOctets:
                pseudonyms.DeviceAddress(payload[..AddressOctets], sender);
                pseudonyms.DeviceAddress(payload.Slice(AddressOctets, AddressOctets), target);
                payload[(2 * AddressOctets)..].Clear();
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

    private bool TryRedactReports(in CapturedFrame frame, Span<byte> octets)
    {
        int position = 0, eventAt = EventIn(frame.LinkType), end = octets.Length;
        bool any = false;
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            if (advertisement.TellsOfConnection)
                return false;
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
