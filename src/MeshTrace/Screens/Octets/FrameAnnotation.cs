using System.Buffers.Binary;
using System.Globalization;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens.Octets;

/// <summary>A frame from the link layer to the access layer, field by field. The decoders find the parts; this only tells where they stand.</summary>
internal static partial class FrameAnnotation
{
    private const string LinkLayer = "link", Bearer = "bearer";
    private const int AccessAddressLength = 4, AdvALength = 6, PduHeaderLength = 2;

    public static IReadOnlyList<OctetLine> Of(Account account, FrameOctets frame)
    {
        var lines = new OctetLines();
        byte[] octets = frame.Octets;
        CapturedFrame captured = frame.ToFrame();
        int position = 0, told = 0;
        bool first = true;
        while (LinkReader.TryReadNext(in captured, ref position, out Advertisement advertisement))
        {
            if (PlaceOf(octets, advertisement.Pdu) is { } pdu)
                told = Link(lines, frame, advertisement, pdu);
            if (PlaceOf(octets, advertisement.AdvData) is { } data)
            {
                if (data > told)
                    lines.Add(LinkLayer, told, octets.AsSpan(told..data), frame.LinkType.IsHostLog ? "HCI" : "header", frame.LinkType.IsHostLog ? "packet of the host controller" : "");
                Structures(lines, account, frame, data, advertisement.AdvData, first);
                told = data + advertisement.AdvData.Length;
            }
            else if (!advertisement.AdvData.IsEmpty)
            {
                lines.Add(LinkLayer, 0, octets, "whitened", "as on the air; below it is undone");
                Structures(lines, account, frame, null, advertisement.AdvData, first);
                told = octets.Length;
            }
            if (advertisement.Problem != LinkProblem.None)
                lines.AddClear(LinkLayer, [], "problem", ProblemWords(advertisement.Problem));
            first = false;
        }
        if (told < octets.Length)
            lines.Add(LinkLayer, told, octets.AsSpan(told), octets.Length - told == 3 ? "CRC" : "rest", octets.Length - told == 3 ? CrcWords(account, frame.Frame) : "");
        if (captured.IsCut)
            lines.AddClear(LinkLayer, [], "cut", $"the frame had {frame.OriginalLength} octets on the air; {octets.Length} were recorded");
        return lines.All;
    }

    /// <summary>What stands before the AdvData. Returns where it ends.</summary>
    private static int Link(OctetLines lines, FrameOctets frame, in Advertisement advertisement, int pdu)
    {
        ReadOnlySpan<byte> octets = frame.Octets;
        int access = pdu - AccessAddressLength;
        if (access < 0)
            return 0;
        if (frame.LinkType == LinkType.LeLinkLayerWithRadioHeader && access >= 10)
            RadioHeaderLines(lines, octets);
        else if (access > 0)
            lines.Add(LinkLayer, 0, octets[..access], "receiver header", $"{Measured(advertisement)}");
        uint address = BinaryPrimitives.ReadUInt32LittleEndian(octets[access..]);
        lines.Add(LinkLayer, access, octets.Slice(access, AccessAddressLength), "Access Address", address == 0x8E89BED6 ? "0x8E89BED6, advertising" : $"0x{address:X8}");
        if (octets.Length < pdu + PduHeaderLength)
            return access + AccessAddressLength;
        string type = advertisement.PduType is { } known ? AdvertisingPduTypeNames.Of(known) : "PDU";
        lines.Add(LinkLayer, pdu, octets.Slice(pdu, 1), "PDU header", $"{type}{(advertisement.HasAdvertiser && advertisement.AdvertiserIsRandom ? ", random address" : "")}");
        lines.Add(LinkLayer, pdu + 1, octets.Slice(pdu + 1, 1), "Length", Phrases.Count(octets[pdu + 1], "octet"));
        int end = pdu + PduHeaderLength;
        if (advertisement.HasAdvertiser && octets.Length >= end + AdvALength && AdvertisingPdu.ReadAddress(octets[end..]) == advertisement.Advertiser)
        {
            lines.Add(LinkLayer, end, octets.Slice(end, AdvALength), "AdvA", JsonForms.DeviceAddressText(advertisement.Advertiser));
            end += AdvALength;
        }
        return end;
    }

    /// <summary>Link type 256: RF Channel, Signal Power, Noise Power, Access Address Offenses, Reference Access Address, Flags.</summary>
    private static void RadioHeaderLines(OctetLines lines, ReadOnlySpan<byte> octets)
    {
        ushort flags = BinaryPrimitives.ReadUInt16LittleEndian(octets[8..]);
        lines.Add(LinkLayer, 0, octets[..1], "RF Channel", $"{2402 + (2 * octets[0])} MHz");
        lines.Add(LinkLayer, 1, octets.Slice(1, 1), "Signal Power", (flags & 0x0002) != 0 ? $"{unchecked((sbyte)octets[1])} dBm" : "not measured");
        lines.Add(LinkLayer, 2, octets.Slice(2, 1), "Noise Power", (flags & 0x0004) != 0 ? $"{unchecked((sbyte)octets[2])} dBm" : "not measured");
        lines.Add(LinkLayer, 3, octets.Slice(3, 1), "AA Offenses", (flags & 0x0020) != 0 ? Phrases.Count(octets[3], "wrong bit") : "not counted");
        lines.Add(LinkLayer, 4, octets.Slice(4, 4), "Reference AA", (flags & 0x0010) != 0 ? $"0x{BinaryPrimitives.ReadUInt32LittleEndian(octets[4..]):X8}" : "not used");
        lines.Add(LinkLayer, 8, octets.Slice(8, 2), "Flags", $"{((flags & 0x0001) != 0 ? "dewhitened" : "whitened")}, CRC {((flags & 0x0400) == 0 ? "not checked" : (flags & 0x0800) != 0 ? "right" : "wrong")}");
    }

    private static string Measured(in Advertisement advertisement)
    {
        string channel = advertisement.Channel is { } index ? $"channel {index}" : "";
        string signal = advertisement.RssiDbm is { } dbm ? $"{dbm} dBm" : "";
        return channel.Length > 0 && signal.Length > 0 ? $"{channel}, {signal}" : channel + signal;
    }

    private static void Structures(OctetLines lines, Account account, FrameOctets frame, int? at, ReadOnlySpan<byte> advData, bool first)
    {
        var reader = new AdStructureReader(advData);
        bool firstMessage = first;
        int offset = 0;
        while (reader.MoveNext())
        {
            Add(lines, Bearer, at + offset, advData.Slice(offset, 1), "Length", Phrases.Count(advData[offset], "octet"));
            Add(lines, Bearer, at + offset + 1, advData.Slice(offset + 1, 1), "AD Type", TypeWords(reader.Type));
            int? data = at + offset + 2;
            switch (reader.Type)
            {
                case AdType.MeshMessage:
                    Network(lines, account, frame.Frame, data, reader.Data, firstMessage);
                    firstMessage = false;
                    break;
                case AdType.MeshBeacon:
                    Beacon(lines, data, reader.Data);
                    break;
                case AdType.PbAdv:
                    Provisioning(lines, data, reader.Data);
                    break;
                default:
                    Add(lines, Bearer, data, reader.Data, "data");
                    break;
            }
            offset += 2 + reader.Data.Length;
        }
        if (offset < advData.Length)
            Add(lines, Bearer, at + offset, advData[offset..], reader.Problem.IsProblem ? "malformed" : "padding", reader.Problem.IsProblem ? "longer than the octets there are" : "");
    }

    private static void Add(OctetLines lines, string layer, int? at, ReadOnlySpan<byte> octets, string field, string reads = "")
    {
        if (octets.IsEmpty)
            return;
        if (at is { } known)
            lines.Add(layer, known, octets, field, reads);
        else
            lines.AddClear(layer, octets, field, reads);
    }

    private static int? PlaceOf(ReadOnlySpan<byte> octets, ReadOnlySpan<byte> part) => !part.IsEmpty && octets.Overlaps(part, out int offset) ? offset : null;

    private static string TypeWords(AdType type) => type switch
    {
        AdType.MeshMessage => "Mesh Message",
        AdType.MeshBeacon => "Mesh Beacon",
        AdType.PbAdv => "PB-ADV",
        AdType.ServiceData16 => "Service Data, 16-bit UUID",
        _ => string.Create(CultureInfo.InvariantCulture, $"0x{(byte)type:X2}"),
    };

    private static string CrcWords(Account account, int frame) => account.History.Frames[frame].Crc switch
    {
        CrcState.Ok => "right",
        CrcState.Bad => "WRONG: any field may be",
        _ => "not checked",
    };

    private static string ProblemWords(LinkProblem problem) => problem switch
    {
        LinkProblem.BadCrc => "arrived damaged (wrong CRC)",
        LinkProblem.Truncated => "octets are missing at the end",
        LinkProblem.UnsupportedLinkType => "a link type that cannot be read",
        _ => "no well-formed PDU",
    };
}
