using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>
/// HCI packets (Bluetooth Core Specification, volume 4 part E): LE Advertising Report (event 0x3E, subevent 0x02, §7.7.65.2) and LE
/// Extended
/// Advertising Report (subevent 0x0D, §7.7.65.13), each with several reports; section numbers and layouts from memory.
/// </summary>
/// <remarks>
/// Event: code(8) | parameter length(8) | subevent(8) | Num_Reports(8) | reports one after the other.
/// Report: Event_Type(8) Address_Type(8) Address(48) Data_Length(8) Data RSSI(8).
/// Extended: Event_Type(16) Address_Type(8) Address(48) Primary_PHY(8) Secondary_PHY(8) Advertising_SID(8) TX_Power(8) RSSI(8)
/// Periodic_Advertising_Interval(16) Direct_Address_Type(8) Direct_Address(48) Data_Length(8) Data.
/// </remarks>
internal static class HciReader
{
    public const byte H4Command = 0x01, H4Acl = 0x02, H4Event = 0x04;
    public const int MonitorEvent = 3, MonitorAclSent = 4, MonitorAclReceived = 5;
    public const byte LeMetaEvent = 0x3E, AdvertisingReport = 0x02, ExtendedAdvertisingReport = 0x0D;
    public const sbyte NoRssi = 127;

    private const int EventHeaderLength = 2, ReportsAt = EventHeaderLength + 2;
    private const int FixedLength = 9, ExtendedFixedLength = 24;
    private const byte HighestH4Indicator = 0x05, AddressIsAbsent = 0xFF;

    // A position that goes on inside an event: octet offset in the low half, number of reports read in the high half.
    private const int OffsetBits = 16;

    private enum Packet : byte
    {
        Nothing,
        Event,
        Acl,
        Truncated,
        Malformed,
    }

    public static bool TryReadNext(in CapturedFrame frame, ref int position, out Advertisement advertisement)
    {
        advertisement = default;
        if (position is < 0 or int.MaxValue)
            return false;
        switch (Classify(frame, out ReadOnlySpan<byte> packet))
        {
            case Packet.Event:
                return TryReadReport(packet, ref position, out advertisement);
            case Packet.Acl when position == 0:
                advertisement = new Advertisement(LinkProblem.None, isConnection: true);
                break;
            case Packet.Truncated when position == 0:
                advertisement = new Advertisement(LinkProblem.Truncated);
                break;
            case Packet.Malformed when position == 0:
                advertisement = new Advertisement(LinkProblem.Malformed);
                break;
            default:
                return false;
        }
        position = int.MaxValue;
        return true;
    }

    /// <summary>What the framing of the link type says; packet begins at the event code.</summary>
    private static Packet Classify(in CapturedFrame frame, out ReadOnlySpan<byte> packet)
    {
        packet = frame.Octets;
        switch (frame.LinkType.Number)
        {
            case 201:
                if (packet.Length < 5)
                    return Packet.Truncated;
                packet = packet[4..];   // the direction word: what is received or sent shows in the indicator, too
                return ClassifyH4(ref packet);
            case 187:
                return ClassifyH4(ref packet);
            case 254:
                if (packet.Length < 4)
                    return Packet.Truncated;
                int opcode = BinaryPrimitives.ReadUInt16BigEndian(packet[2..]);
                packet = packet[4..];
                return opcode switch
                {
                    MonitorEvent => Packet.Event,
                    MonitorAclSent or MonitorAclReceived => Packet.Acl,
                    _ => Packet.Nothing,
                };
            default:
                return frame.Hci switch
                {
                    HciKind.Event => Packet.Event,
                    HciKind.AclSent or HciKind.AclReceived => Packet.Acl,
                    _ => Packet.Nothing,
                };
        }
    }

    private static Packet ClassifyH4(ref ReadOnlySpan<byte> packet)
    {
        if (packet.IsEmpty)
            return Packet.Truncated;
        byte indicator = packet[0];
        packet = packet[1..];
        return indicator switch
        {
            H4Event => Packet.Event,
            H4Acl => Packet.Acl,
            >= 1 and <= HighestH4Indicator => Packet.Nothing,
            _ => Packet.Malformed,
        };
    }

    private static bool TryReadReport(ReadOnlySpan<byte> packet, ref int position, out Advertisement advertisement)
    {
        advertisement = default;
        int at = position & ((1 << OffsetBits) - 1), read = position >> OffsetBits;
        if (at == 0)
        {
            if (packet.Length < EventHeaderLength)
                return End(LinkProblem.Truncated, ref position, out advertisement);
            if (packet[0] != LeMetaEvent)
                return false;
            if (packet[1] < 2)
                return End(LinkProblem.Malformed, ref position, out advertisement);
            if (packet.Length < ReportsAt)
                return End(LinkProblem.Truncated, ref position, out advertisement);
            if (packet[2] is not (AdvertisingReport or ExtendedAdvertisingReport))
                return false;
            if (packet[3] == 0)
                return End(LinkProblem.Malformed, ref position, out advertisement);
            at = ReportsAt;
        }
        if (packet.Length < ReportsAt || read >= packet[3] || at > packet.Length)
            return false;
        int end = EventHeaderLength + packet[1];
        ReadOnlySpan<byte> rest = packet[at..Math.Max(at, Math.Min(end, packet.Length))];
        int length = packet[2] == ExtendedAdvertisingReport
            ? ReadExtended(rest, out advertisement)
            : ReadLegacy(rest, out advertisement);
        if (length < 0)   // the report does not fit: the frame was cut, or Num_Reports and Data_Length do not fit the parameter length
            return End(packet.Length < end ? LinkProblem.Truncated : LinkProblem.Malformed, ref position, out advertisement);
        position = read + 1 == packet[3] ? int.MaxValue : (at + length) | ((read + 1) << OffsetBits);
        return true;
    }

    /// <summary>Octets of the report, or -1 if it does not fit.</summary>
    private static int ReadLegacy(ReadOnlySpan<byte> report, out Advertisement advertisement)
    {
        advertisement = default;
        if (report.Length < FixedLength || report.Length < FixedLength + report[8] + 1)
            return -1;
        ReadOnlySpan<byte> data = report.Slice(FixedLength, report[8]);
        byte type = report[0] switch
        {
            0 => (byte)AdvertisingPduType.AdvInd,
            1 => (byte)AdvertisingPduType.AdvDirectInd,
            2 => (byte)AdvertisingPduType.AdvScanInd,
            3 => (byte)AdvertisingPduType.AdvNonconnInd,
            4 => (byte)AdvertisingPduType.ScanRsp,
            _ => Advertisement.NoPduType,
        };
        LinkProblem problem = type == Advertisement.NoPduType || data.Length > AdvertisingPdu.LongestLegacyAdvData
            ? LinkProblem.Malformed
            : LinkProblem.None;
        advertisement = Report(type, report[1], report[2..], unchecked((sbyte)report[FixedLength + data.Length]), problem, data);
        return FixedLength + data.Length + 1;
    }

    private static int ReadExtended(ReadOnlySpan<byte> report, out Advertisement advertisement)
    {
        advertisement = default;
        if (report.Length < ExtendedFixedLength || report.Length < ExtendedFixedLength + report[23])
            return -1;
        ReadOnlySpan<byte> data = report.Slice(ExtendedFixedLength, report[23]);
        int eventType = BinaryPrimitives.ReadUInt16LittleEndian(report);
        byte type = (eventType & 0x1F) switch   // connectable, scannable, directed, scan response, legacy
        {
            0x13 => (byte)AdvertisingPduType.AdvInd,
            0x15 => (byte)AdvertisingPduType.AdvDirectInd,
            0x12 => (byte)AdvertisingPduType.AdvScanInd,
            0x10 => (byte)AdvertisingPduType.AdvNonconnInd,
            0x1B or 0x1A => (byte)AdvertisingPduType.ScanRsp,
            < 0x10 => (byte)AdvertisingPduType.AdvExtInd,
            _ => Advertisement.NoPduType,
        };
        // Data status: 0 complete, 1 more comes in another report, 2 truncated.
        LinkProblem problem = type == Advertisement.NoPduType ? LinkProblem.Malformed
            : ((eventType >> 5) & 3) != 0 ? LinkProblem.Truncated
            : LinkProblem.None;
        advertisement = Report(type, report[2], report[3..], unchecked((sbyte)report[13]), problem, data);
        return ExtendedFixedLength + data.Length;
    }

    private static Advertisement Report(
        byte type, byte addressType, ReadOnlySpan<byte> address, sbyte rssi, LinkProblem problem, ReadOnlySpan<byte> data)
    {
        var report = new Advertisement(problem)
        {
            PduTypeOrNone = type,
            RssiOrNone = rssi == NoRssi ? Advertisement.NoRssi : rssi,
            AdvData = data,
        };
        if (addressType != AddressIsAbsent)
        {
            report.HasAdvertiser = true;
            report.Advertiser = AdvertisingPdu.ReadAddress(address);
            report.AdvertiserIsRandom = addressType is 1 or 3;   // 2 and 3: the identity address behind a private one
        }
        return report;
    }

    private static bool End(LinkProblem problem, ref int position, out Advertisement advertisement)
    {
        position = int.MaxValue;
        advertisement = new Advertisement(problem);
        return true;
    }
}
