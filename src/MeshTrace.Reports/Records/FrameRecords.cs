using MeshTrace.Analysis.History;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Records;

/// <summary><c>frame</c> records: one captured frame a line.</summary>
internal static class FrameRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        ref readonly FrameRow frame = ref history.Frames[row];
        ReceiverDescription? receiver = frame.Receiver < history.Receivers.Count ? history.Receivers[frame.Receiver] : null;
        line.Begin("frame"u8, row);
        line.Word("file"u8, receiver?.File);
        line.Number("receiver"u8, frame.Receiver + 1);
        line.Time("time"u8, frame.TimeNs);
        line.Number("linkType"u8, receiver?.LinkType.ShownNumber);
        line.Number("channel"u8, frame.Channel);
        line.Number("rssi"u8, frame.Rssi);
        line.Word("crc"u8, CrcWord(frame.Crc));
        if (frame.HasAdvertiser)
        {
            line.DeviceAddress("advertiser"u8, frame.Advertiser);
            line.Word("advertiserKind"u8, frame.AdvertiserIsRandom ? "random"u8 : "public"u8);
        }
        else
        {
            line.Null("advertiser"u8);
            line.Null("advertiserKind"u8);
        }
        line.Word("pduType"u8, PduTypeName(frame.PduType));
        WriteCarries(line, frame.Carries);
        line.Number("flood"u8, history.FloodOf(row) + 1);
        line.Number("connection"u8, frame.Connection + 1);
        line.Word("problem"u8, ProblemWord(frame.Problem));
        if (history.TextLines.Count > 0)
            WriteTextLine(line, history, history.TextLineOf(row));
        else
            WriteNoTextLine(line);
        line.End();
    }

    /// <summary>Of a text log: its line, what that was taken for, and why.</summary>
    private static void WriteTextLine(JsonLine line, CaptureHistory history, TextLineRecord? told)
    {
        line.Number("line"u8, told?.Line);
        line.Word("takenFor"u8, told is { } known ? TakenFor(known.Kind) : null);
        line.Word("because"u8, told?.Reason switch
        {
            TextLineReason.Words => "words",
            TextLineReason.Form => "form",
            TextLineReason.NetMic => "net-mic",
            _ => null,
        });
        line.Word("accessMessage"u8, told is { PayloadLength: > 0 } access ? AccessReader.Read(history.PayloadOf(access)).Definition?.Name : null);
    }

    /// <summary>The same members of a capture that holds no text log.</summary>
    private static void WriteNoTextLine(JsonLine line)
    {
        line.Null("line"u8);
        line.Null("takenFor"u8);
        line.Null("because"u8);
        line.Null("accessMessage"u8);
    }

    internal static string TakenFor(TextLineKind kind) => kind switch
    {
        TextLineKind.NoOctets => "no-octets",
        TextLineKind.Key => "key",
        TextLineKind.ProxyPdu => "proxy-pdu",
        TextLineKind.NetworkPdu => "network-pdu",
        TextLineKind.ProvisioningPdu => "provisioning-pdu",
        TextLineKind.Beacon => "beacon",
        TextLineKind.AccessPayload => "access-payload",
        TextLineKind.UpperTransportPdu => "upper-transport-pdu",
        _ => "unclear",
    };

    private static void WriteCarries(JsonLine line, Carries carries)
    {
        line.StartArray("carries"u8);
        for (uint left = (uint)carries; left != 0; left &= left - 1)
        {
            if (CarriesWord((Carries)(left & ~(left - 1))) is { Length: > 0 } word)
                line.Json.WriteStringValue(word);
        }
        line.EndArray();
    }

    internal static ReadOnlySpan<byte> CarriesWord(Carries one) => one switch
    {
        Carries.MeshMessage => "meshMessage"u8,
        Carries.ProvisioningBearer => "provisioningBearer"u8,
        Carries.SecureNetworkBeacon => "secureNetworkBeacon"u8,
        Carries.UnprovisionedBeacon => "unprovisionedBeacon"u8,
        Carries.PrivateBeacon => "privateBeacon"u8,
        Carries.ProxyService => "proxyService"u8,
        Carries.ProvisioningService => "provisioningService"u8,
        Carries.Solicitation => "solicitation"u8,
        Carries.GattProxy => "gattProxy"u8,
        Carries.GattProvisioning => "gattProvisioning"u8,
        Carries.Connection => "connection"u8,
        Carries.Other => "other"u8,
        _ => default,
    };

    private static ReadOnlySpan<byte> CrcWord(CrcState crc) => crc switch
    {
        CrcState.Ok => "ok"u8,
        CrcState.Bad => "bad"u8,
        _ => "unknown"u8,
    };

    /// <summary>Null where the frame could be read.</summary>
    private static string? ProblemWord(FrameProblem problem) => problem switch
    {
        FrameProblem.BadCrc => "bad-crc",
        FrameProblem.Truncated => "truncated",
        FrameProblem.Malformed => "malformed",
        FrameProblem.UnknownNetwork => "unknown-network",
        FrameProblem.UnsupportedLinkType => "unsupported-link-type",
        _ => null,
    };

    /// <summary>Core Specification Vol 6 Part B §2.3, table of advertising physical channel PDU types; 7 covers all extended advertising PDUs.</summary>
    internal static string? PduTypeName(int? type) => type switch
    {
        0x0 => "ADV_IND",
        0x1 => "ADV_DIRECT_IND",
        0x2 => "ADV_NONCONN_IND",
        0x3 => "SCAN_REQ",
        0x4 => "SCAN_RSP",
        0x5 => "CONNECT_IND",
        0x6 => "ADV_SCAN_IND",
        0x7 => "ADV_EXT_IND",
        0x8 => "AUX_CONNECT_RSP",
        _ => null,      // reserved for future use: no name to give
    };
}
