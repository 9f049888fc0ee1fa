using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Reports.Records;

/// <summary><c>connection</c> records: one connection between two devices a line.</summary>
internal static class ConnectionRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        ConnectionRecord connection = history.Connections[row];
        line.Begin("connection"u8, row);
        line.Number("receiver"u8, connection.Receiver + 1);
        line.Number("handle"u8, connection.Handle);
        if (connection.AccessAddress is { } accessAddress)
            line.PrefixedHex("accessAddress"u8, accessAddress, 8);
        else
            line.Null("accessAddress"u8);
        WriteDevice(line, "central"u8, "centralKind"u8, connection.Central, connection.CentralIsRandom);
        WriteDevice(line, "peripheral"u8, "peripheralKind"u8, connection.Peripheral, connection.PeripheralIsRandom);
        line.Flag("hostIsCentral"u8, connection.HostIsCentral);
        line.Time("firstTime"u8, connection.FirstTimeNs);
        line.Time("lastTime"u8, connection.LastTimeNs);
        line.Flag("beginHeard"u8, connection.BeginHeard);
        line.Number("endReason"u8, connection.EndReason);
        line.Number("intervalMs"u8, connection.IntervalMs);
        line.Number("mtu"u8, connection.Mtu);
        WriteServices(line, connection.Services);
        line.Word("proxy"u8, WordOf(connection.Proxy));
        line.Word("provisioning"u8, WordOf(connection.Provisioning));
        line.Word("encryption"u8, WordOf(connection.Encryption));
        line.Address("client"u8, connection.ClientAddress);
        line.Address("server"u8, connection.ServerAddress);
        WriteFilter(line, connection);
        WriteCounts(line, connection.Counts);
        line.End();
    }

    private static void WriteDevice(JsonLine line, ReadOnlySpan<byte> name, ReadOnlySpan<byte> kind, ulong? address, bool isRandom)
    {
        if (address is { } known)
        {
            line.DeviceAddress(name, known);
            line.Word(kind, isRandom ? "random"u8 : "public"u8);
            return;
        }
        line.Null(name);
        line.Null(kind);
    }

    private static void WriteServices(JsonLine line, List<ServiceHeard> services)
    {
        line.StartArray("services"u8);
        foreach (ServiceHeard service in services)
        {
            line.Json.WriteStartObject();
            if (service.Uuid is { } uuid)
                line.PrefixedHex("uuid"u8, uuid, 4);
            else
                line.Null("uuid"u8);
            line.Number("start"u8, service.Start);
            line.Number("end"u8, service.End);
            line.Json.WriteEndObject();
        }
        line.EndArray();
    }

    private static void WriteFilter(JsonLine line, ConnectionRecord connection)
    {
        line.StartArray("filter"u8);
        foreach (ProxyFilterChange change in connection.FilterChanges)
        {
            line.Json.WriteStartObject();
            line.Time("time"u8, change.TimeNs);
            line.Number("frame"u8, change.Frame + 1);
            line.Word("kind"u8, WordOf(change.Kind));
            line.Word("type"u8, change.FilterType switch
            {
                ProxyFilterType.AcceptList => "accept-list",
                ProxyFilterType.RejectList => "reject-list",
                _ => null,
            });
            line.Addresses("addresses"u8, change.Addresses);
            line.Number("size"u8, change.ListSize);
            line.Json.WriteEndObject();
            line.SpillWhenFull();
        }
        line.EndArray();
    }

    private static void WriteCounts(JsonLine line, ConnectionCounts counts)
    {
        line.Json.WriteStartObject("counts"u8);
        line.Number("packets"u8, counts.Packets);
        line.Number("badCrc"u8, counts.BadCrc);
        line.Number("repeated"u8, counts.Repeated);
        line.Number("encrypted"u8, counts.Encrypted);
        line.Number("gaps"u8, counts.Gaps);
        line.Number("framesLost"u8, counts.FramesLost);
        line.Number("otherFrames"u8, counts.OtherFrames);
        line.Number("attributePdus"u8, counts.AttributePdus);
        line.Number("proxyPdusLost"u8, counts.ProxyPdusLost);
        line.Number("networkPdusFromClient"u8, counts.NetworkPdusFromClient);
        line.Number("networkPdusFromServer"u8, counts.NetworkPdusFromServer);
        line.Number("beacons"u8, counts.Beacons);
        line.Number("configurationMessages"u8, counts.ConfigurationMessages);
        line.Number("configurationMessagesUnopened"u8, counts.ConfigurationMessagesUnopened);
        line.Number("provisioningPdus"u8, counts.ProvisioningPdus);
        line.Json.WriteEndObject();
    }

    /// <summary>Null where no mesh traffic was recognised.</summary>
    private static string? WordOf(MeshRecognition recognition) => recognition switch
    {
        MeshRecognition.Discovered => "discovered",
        MeshRecognition.ByContent => "by-content",
        _ => null,
    };

    private static string WordOf(LinkEncryption encryption) => encryption switch
    {
        LinkEncryption.Encrypted => "encrypted",
        LinkEncryption.LooksEncrypted => "looks-encrypted",
        _ => "none",
    };

    private static string WordOf(ProxyFilterChangeKind kind) => kind switch
    {
        ProxyFilterChangeKind.TypeSet => "type-set",
        ProxyFilterChangeKind.Added => "added",
        ProxyFilterChangeKind.Removed => "removed",
        ProxyFilterChangeKind.ClientSource => "client-source",
        _ => "told",
    };
}
