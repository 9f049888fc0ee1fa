using System.Globalization;
using MeshTrace.Analysis.Connections;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Words;

/// <summary>Connections: who with whom, what of the mesh ran over them, how the proxy filter stood, and what could not be used.</summary>
internal static class ConnectionSection
{
    private const int MostShown = 12, MostAddresses = 8;
    private const string Indent = "      ";

    public static void Write(Paper paper, Account account)
    {
        IReadOnlyList<ConnectionRecord> all = account.History.Connections;
        if (all.Count == 0)
            return;
        paper.Heading($"Connections: {Phrases.Number(all.Count)}");
        // Those with mesh traffic first: a phone has other connections, too.
        List<ConnectionRecord> shown = [.. all.OrderByDescending(CarriesMesh).Take(MostShown)];
        foreach (ConnectionRecord connection in shown)
            WriteOne(paper, account, connection);
        if (all.Count > shown.Count)
            paper.Paragraph($"{Phrases.Number(all.Count - shown.Count)} more: 'meshtrace records --only connection' lists all.", tone: Tone.Quiet);
    }

    private static bool CarriesMesh(ConnectionRecord connection) => connection.Proxy != MeshRecognition.None || connection.Provisioning != MeshRecognition.None;

    private static void WriteOne(Paper paper, Account account, ConnectionRecord connection)
    {
        if (connection.Handle is null && connection.AccessAddress is null)
        {
            paper.Paragraph($"{Phrases.Clock(connection.FirstTimeNs)}  the Proxy PDUs of a text log{Clients(account, connection)}.");
            paper.Paragraph($"{Mesh(connection)}.", Indent);
            WriteRest(paper, account, connection);
            return;
        }
        double? ms = JsonForms.Milliseconds(connection.FirstTimeNs, connection.LastTimeNs);
        string took = ms is { } known ? $" for {Phrases.Duration(known)}" : "", begin = connection.BeginHeard ? "" : ", begun before it was recorded";
        paper.Paragraph($"{Phrases.Clock(connection.FirstTimeNs)}  {Who(account, connection)}{took}{begin}{End(connection)}.");
        paper.Paragraph(Carried(connection), Indent);
        WriteRest(paper, account, connection);
    }

    private static void WriteRest(Paper paper, Account account, ConnectionRecord connection)
    {
        if (connection.FilterChanges.Count > 0)
            paper.Paragraph(Filter(account, connection), Indent);
        if (Unusable(connection) is { Length: > 0 } unusable)
            paper.Paragraph($"Not used: {unusable}.", Indent, Tone.Quiet);
    }

    private static string Who(Account account, ConnectionRecord connection)
    {
        string central = connection.HostIsCentral == true ? "the host of this log" : connection.Central is { } address ? JsonForms.DeviceAddressText(address) : "an unknown device";
        string peripheral = connection.HostIsCentral == false ? "the host of this log" : connection.Peripheral is { } other ? JsonForms.DeviceAddressText(other) : "an unknown device";
        string server = connection.ServerAddress is { } node ? $", {account.Names.Full(node)}" : "", client = connection.ClientAddress is { } phone ? $", {account.Names.Full(phone)}" : "";
        return $"{central}{client} with {peripheral}{server}";
    }

    private static string End(ConnectionRecord connection) => connection.EndReason switch
    {
        null => ", end not heard",
        // HCI error codes (Bluetooth Core Specification, volume 1 part F §2; from memory).
        0x08 => ", ended: nothing was heard of the other side any more",
        0x13 or 0x16 when connection.Handle is null => ", ended by one of them",      // from the air no side is this one
        0x13 => ", ended by the other side",
        0x16 => ", ended by this side",
        0x3D => ", ended: messages failed their integrity check",
        0x3E => ", ended before it was established",
        { } code => string.Create(CultureInfo.InvariantCulture, $", ended with reason 0x{code:X2}"),
    };

    private static string Clients(Account account, ConnectionRecord connection) =>
        (connection.ClientAddress is { } client ? $", client {account.Names.Full(client)}" : "") + (connection.ServerAddress is { } server ? $", server {account.Names.Full(server)}" : "");

    private static string Mesh(ConnectionRecord connection)
    {
        var what = new List<string>();
        ConnectionCounts counts = connection.Counts;
        if (connection.Provisioning != MeshRecognition.None)
            what.Add($"Mesh Provisioning Service{How(connection.Provisioning)}: {Phrases.Count(counts.ProvisioningPdus, "provisioning PDU")}");
        if (connection.Proxy != MeshRecognition.None)
        {
            what.Add($"Mesh Proxy Service{How(connection.Proxy)}: {Phrases.Count(counts.NetworkPdusFromClient, "Network PDU")} from the client, "
                + $"{Phrases.Number(counts.NetworkPdusFromServer)} passed on to it, {Phrases.Count(counts.Beacons, "beacon")}, {Phrases.Count(counts.ConfigurationMessages, "filter message")}"
                + (counts.ConfigurationMessagesUnopened > 0 ? $" ({Phrases.Number(counts.ConfigurationMessagesUnopened)} not opened by any key)" : ""));
        }
        if (what.Count == 0)
            what.Add(connection.Encryption == LinkEncryption.None ? "No mesh traffic was recognised in it" : "What it carried cannot be read");
        return string.Join("; ", what);
    }

    private static string Carried(ConnectionRecord connection)
    {
        string mtu = connection.Mtu is { } size ? $"ATT_MTU {size}" : "ATT_MTU not heard (23 unless exchanged before)";
        return $"{Mesh(connection)}. {mtu}; {Encryption(connection)}.";
    }

    private static string How(MeshRecognition recognition) => recognition == MeshRecognition.ByContent ? " (recognised by content; its discovery was not recorded)" : "";

    private static string Encryption(ConnectionRecord connection) => connection.Encryption switch
    {
        LinkEncryption.Encrypted when connection.Handle is not null => "the link was encrypted, which a host log does not show in its contents",
        LinkEncryption.Encrypted => "encrypted from some point on, and left alone from there",
        LinkEncryption.LooksEncrypted => "nothing in it reads, so it most likely was encrypted before the recording",
        _ => "not encrypted",
    };

    private static string Filter(Account account, ConnectionRecord connection)
    {
        ProxyFilter filter = connection.FilterAt(long.MaxValue);
        string type = filter.Type == ProxyFilterType.AcceptList ? "accept list" : "reject list";
        string list = filter.Count == 0 ? "empty" : Phrases.List([.. filter.Addresses.Select(account.Names.Full)], MostAddresses);
        string told = filter.ToldSize is { } size ? $"; its last Filter Status told {Phrases.Count(size, "address", "addresses")}" : "";
        string doubt = filter.IsCertain ? "" : "; part of its life was not heard, so the list may hold others";
        return $"Proxy filter at the end: {type}, {list}{told}{doubt}.";
    }

    private static string Unusable(ConnectionRecord connection)
    {
        ConnectionCounts counts = connection.Counts;
        var parts = new List<string>();
        Add(counts.BadCrc, "packet with a wrong CRC", "packets with a wrong CRC");
        Add(counts.Encrypted, "encrypted packet", "encrypted packets");
        Add(counts.Repeated, "packet sent again by the link layer", "packets sent again by the link layer");
        Add(counts.FramesLost, "L2CAP frame that is not whole", "L2CAP frames that are not whole");
        Add(counts.ProxyPdusLost, "Proxy PDU that is not whole or makes no sense", "Proxy PDUs that are not whole or make no sense");
        return Phrases.List(parts);

        void Add(int count, string one, string many)
        {
            if (count > 0)
                parts.Add(Phrases.Count(count, one, many));
        }
    }
}
