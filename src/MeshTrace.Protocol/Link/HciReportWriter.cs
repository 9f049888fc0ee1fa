using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>
/// Writes LE Advertising Report and LE Extended Advertising Report events of one report in the framing of an HCI link type: what
/// <see cref="LinkReader"/> reads. Layouts: see <see cref="HciReader"/>.
/// </summary>
public static class HciReportWriter
{
    /// <summary>Octets that hold any frame written here.</summary>
    public const int LongestFrame = 5 + 2 + 255;

    /// <summary>Subevent code of an LE Extended Advertising Report, the third octet of its event.</summary>
    public const byte ExtendedSubevent = HciReader.ExtendedAdvertisingReport;

    /// <summary>RSSI that stands for "not available".</summary>
    public const int RssiNotAvailable = HciReader.NoRssi;

    /// <summary>An LE Advertising Report; returns the octets written.</summary>
    /// <param name="type">187, 201, 254, or one of the two BTSnoop forms without frame header (the event alone).</param>
    public static int Write(
        Span<byte> destination, LinkType type, AdvertisingPduType pduType, ulong advertiser, bool random, ReadOnlySpan<byte> advData, int rssiDbm)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(advData.Length, AdvertisingPdu.LongestLegacyAdvData, nameof(advData));
        int start = WriteFraming(destination, type);
        Span<byte> report = WriteEventHeader(destination[start..], HciReader.AdvertisingReport, 10 + advData.Length);
        report[0] = pduType switch
        {
            AdvertisingPduType.AdvInd => 0,
            AdvertisingPduType.AdvDirectInd => 1,
            AdvertisingPduType.AdvScanInd => 2,
            AdvertisingPduType.AdvNonconnInd => 3,
            AdvertisingPduType.ScanRsp => 4,
            _ => throw new ArgumentException("No report tells of this PDU type.", nameof(pduType)),
        };
        report[1] = random ? (byte)1 : (byte)0;
        AdvertisingPdu.WriteAddress(report[2..], advertiser);
        report[8] = (byte)advData.Length;
        advData.CopyTo(report[9..]);
        report[9 + advData.Length] = unchecked((byte)(sbyte)rssiDbm);
        return start + 4 + 10 + advData.Length;
    }

    /// <summary>An LE Extended Advertising Report of a legacy PDU or, with <see cref="AdvertisingPduType.AdvExtInd"/>, of an extended
    /// one.</summary>
    public static int WriteExtended(
        Span<byte> destination, LinkType type, AdvertisingPduType pduType, ulong advertiser, bool random, ReadOnlySpan<byte> advData, int rssiDbm)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(advData.Length, 255 - 2 - 24, nameof(advData));
        int start = WriteFraming(destination, type);
        Span<byte> report = WriteEventHeader(destination[start..], HciReader.ExtendedAdvertisingReport, 24 + advData.Length);
        report[..24].Clear();   // addresses and intervals that are not there
        BinaryPrimitives.WriteUInt16LittleEndian(report, pduType switch
        {
            AdvertisingPduType.AdvInd => 0x13,
            AdvertisingPduType.AdvDirectInd => 0x15,
            AdvertisingPduType.AdvScanInd => 0x12,
            AdvertisingPduType.AdvNonconnInd => 0x10,
            AdvertisingPduType.ScanRsp => 0x1B,
            AdvertisingPduType.AdvExtInd => 0x00,
            _ => throw new ArgumentException("No report tells of this PDU type.", nameof(pduType)),
        });
        report[2] = random ? (byte)1 : (byte)0;
        AdvertisingPdu.WriteAddress(report[3..], advertiser);
        report[9] = 1;       // primary PHY: LE 1M
        report[11] = 0xFF;   // no advertising set id
        report[12] = 127;    // TX power not available
        report[13] = unchecked((byte)(sbyte)rssiDbm);
        report[23] = (byte)advData.Length;
        advData.CopyTo(report[24..]);
        return start + 4 + 24 + advData.Length;
    }

    private static int WriteFraming(Span<byte> destination, LinkType type)
    {
        switch (type.Number)
        {
            case 187:
                destination[0] = HciReader.H4Event;
                return 1;
            case 201:
                // Direction. The registry's layout: lowest bit 0 = received by the host, 1 = sent by it; an event is received.
                BinaryPrimitives.WriteUInt32BigEndian(destination, 0);
                destination[4] = HciReader.H4Event;
                return 5;
            case 254:
                BinaryPrimitives.WriteUInt16BigEndian(destination, 0);   // adapter
                BinaryPrimitives.WriteUInt16BigEndian(destination[2..], HciReader.MonitorEvent);
                return 4;
            case 0x10000 + 1001 or 0x10000 + 2001:
                return 0;
            default:
                throw new ArgumentException($"Link type {type} carries no HCI packets.", nameof(type));
        }
    }

    private static Span<byte> WriteEventHeader(Span<byte> destination, byte subevent, int reportLength)
    {
        destination[0] = HciReader.LeMetaEvent;
        destination[1] = (byte)(2 + reportLength);
        destination[2] = subevent;
        destination[3] = 1;
        return destination[4..];
    }
}
