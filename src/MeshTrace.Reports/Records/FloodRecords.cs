using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;

namespace MeshTrace.Reports.Records;

/// <summary><c>flood</c> records: one Network PDU with all its copies a line.</summary>
internal static class FloodRecords
{
    private const int TtlValues = 128;      // TTL has 7 bits (Mesh Protocol 1.1 §3.4.4.4)

    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        ref readonly FloodRow flood = ref history.Floods[row];
        Subnet subnet = history.Keys.Subnets[flood.Subnet];
        ReadOnlySpan<FloodCopy> copies = history.CopiesOf(row);

        line.Begin("flood"u8, row);
        line.NetworkId("networkId"u8, subnet.NetworkId);
        line.Number("netKeyIndex"u8, subnet.NetKeyIndex);
        line.Number("ivIndex"u8, flood.IvIndex);
        line.Word("credentials"u8, CredentialsWord(flood.Credentials));
        line.Flag("ctl"u8, flood.Ctl);
        line.Address("src"u8, flood.Src);
        line.Address("dst"u8, flood.Dst);
        line.Number("seq"u8, flood.Seq);
        line.Time("firstTime"u8, flood.FirstTimeNs);
        line.Time("lastTime"u8, flood.LastTimeNs);
        WriteTtls(line, copies);
        line.Hex("transportPdu"u8, flood.TransportPdu);

        int? highestTtl = history.OriginatorHeard(row) ? flood.HighestTtl : null;     // without the originator nobody can count hops
        int[]? transmissions = history.Receivers.Count > 1 ? history.TransmissionsOf(row) : null;
        line.StartArray("copies"u8);
        for (int i = 0; i < copies.Length; i++)
        {
            WriteCopy(line, history, highestTtl, copies[i], transmissions?[i]);
            line.SpillWhenFull();       // a hostile capture may repeat one PDU a million times
        }
        line.EndArray();
        line.End();
    }

    private static void WriteTtls(JsonLine line, ReadOnlySpan<FloodCopy> copies)
    {
        Span<int> counts = stackalloc int[TtlValues];
        counts.Clear();
        for (int i = 0; i < copies.Length; i++)
            counts[copies[i].Ttl & 0x7F]++;
        line.StartArray("ttls"u8);
        for (int ttl = TtlValues - 1; ttl >= 0; ttl--)
        {
            if (counts[ttl] == 0)
                continue;
            line.Json.WriteStartObject();
            line.Json.WriteNumber("ttl"u8, ttl);
            line.Json.WriteNumber("copies"u8, counts[ttl]);
            line.Json.WriteEndObject();
        }
        line.EndArray();
    }

    private static void WriteCopy(JsonLine line, CaptureHistory history, int? highestTtl, FloodCopy copy, int? transmission)
    {
        ref readonly FrameRow frame = ref history.Frames[copy.Frame];
        line.Json.WriteStartObject();
        line.Number("frame"u8, copy.Frame + 1);
        line.Time("time"u8, frame.TimeNs);
        line.Number("ttl"u8, copy.Ttl);
        line.Number("channel"u8, frame.Channel);
        line.Number("rssi"u8, frame.Rssi);
        line.Number("receiver"u8, frame.Receiver + 1);
        if (frame.HasAdvertiser)
            line.DeviceAddress("advertiser"u8, frame.Advertiser);
        else
            line.Null("advertiser"u8);
        line.Address("sentBy"u8, history.SenderOf(copy));
        line.Number("hop"u8, copy.Bearer is Bearer.Advertising or Bearer.GattFromClient ? highestTtl - copy.Ttl : null);
        line.Word("bearer"u8, BearerWord(copy.Bearer));
        if (transmission is { } number)
            line.Number("transmission"u8, number == 0 ? null : number);
        line.Json.WriteEndObject();
    }

    internal static ReadOnlySpan<byte> BearerWord(Bearer bearer) => bearer switch
    {
        Bearer.GattFromClient => "gatt-from-client"u8,
        Bearer.GattFromServer => "gatt-from-server"u8,
        Bearer.TextLog => "text-log"u8,
        _ => "advertising"u8,
    };

    internal static ReadOnlySpan<byte> CredentialsWord(Credentials credentials) => credentials switch
    {
        Credentials.Friendship => "friendship"u8,
        Credentials.Directed => "directed"u8,
        _ => "flooding"u8,
    };
}
