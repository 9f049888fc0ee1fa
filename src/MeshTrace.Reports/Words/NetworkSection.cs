using System.Globalization;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Words;

/// <summary>The networks that the keys opened, what could not be opened, and which key is missing for it. Keys appear by index and name, never by octets.</summary>
internal static class NetworkSection
{
    private const int MostMissing = 6;
    private const string Note = "  ! ";

    public static void Write(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        if (history.Keys.Subnets.Count == 0 && history.UnknownNids.Count == 0 && history.Beacons.Count == 0)
            return;
        paper.Heading("Networks");
        foreach (Subnet subnet in history.Keys.Subnets)
            paper.Paragraph(Words(subnet));
        WriteAppKeys(paper, history);
        if (history.OpenedNetworkPdus > 0 && history.UnknownNids.Count > 0)
            paper.Paragraph($"Not opened by any key: {Verdict.Nids(history)}. Neighbours' networks are normal; if one of them is yours, its network key is missing (or, during a key refresh, the new one).");
        WriteForeignBeacons(paper, history);
        WriteClosedMessages(paper, account);
    }

    internal static string Words(Subnet subnet)
    {
        string iv = subnet.IvIndex is { } index
            ? $"IV index {index.ToString(CultureInfo.InvariantCulture)}, {Origin(subnet.IvIndexOrigin)}"
            : "IV index not known";
        string opened = subnet.PdusOpened == 0 ? "opened nothing" : $"opened {Phrases.Count(subnet.PdusOpened, "Network PDU")}";
        return $"{NetKeyName(subnet)}, NID {Verdict.Nid(subnet.Nid)}: {opened}; {iv}{Learnt(subnet.Origin)}.";
    }

    internal static string NetKeyName(Subnet subnet)
    {
        string index = subnet.NetKeyIndex is { } known ? $"Network key {known}" : "Network key without index";
        string name = SafeText.Strip(subnet.Name) is { Length: > 0 } given ? $" \"{given}\"" : "";
        return index + name + (subnet.IsOldKey ? " (the old one of a key refresh)" : "");
    }

    internal static string Origin(IvIndexOrigin origin) => origin switch
    {
        IvIndexOrigin.Beacon => "told by an authenticated beacon",
        IvIndexOrigin.Given => "as given, and confirmed by authentic PDUs",
        IvIndexOrigin.Searched => "found by trying from 0 upward until PDUs were authentic",
        IvIndexOrigin.Provisioning => "told by a provisioning",
        _ => "from an unknown source",
    };

    private static string Learnt(KeyOrigin origin) => origin switch
    {
        KeyOrigin.ConfigMessage => "; the key was learnt from a Config message on the air",
        KeyOrigin.Provisioning => "; the key was learnt from a provisioning",
        _ => "",
    };

    private static void WriteAppKeys(Paper paper, CaptureHistory history)
    {
        List<string> keys = history.Keys.AppKeys.Select(key => $"{AppKeyName(key)} opened {Phrases.Count(key.MessagesOpened, "message")}").ToList();
        int device = history.Keys.DeviceKeys.Sum(key => key.MessagesOpened);
        if (device > 0)
            keys.Add($"device keys opened {Phrases.Count(device, "message")}");
        if (keys.Count > 0 && history.OpenedNetworkPdus > 0)
            paper.Paragraph($"{Upper(Phrases.List(keys))}.");
    }

    private static string Upper(string text) => text.Length == 0 ? text : char.ToUpperInvariant(text[0]) + text[1..];

    internal static string AppKeyName(AppKey key)
    {
        string index = key.AppKeyIndex is { } known ? $"application key {known}" : $"application key with AID 0x{key.Aid:x2}";
        string name = SafeText.Strip(key.Name) is { Length: > 0 } given ? $" \"{given}\"" : "";
        return index + name + (key.IsOldKey ? " (old)" : "");
    }

    private static void WriteForeignBeacons(Paper paper, CaptureHistory history)
    {
        List<string> ids = history.Beacons.Where(beacon => beacon is { Kind: BeaconKind.Secure, Authenticated: null, NetworkId: not null })
            .Select(beacon => beacon.NetworkId!).Distinct().ToList();
        if (ids.Count > 0)
            paper.Paragraph($"Beacons of {Phrases.Count(ids.Count, "network")} without a key here: Network ID {Phrases.List(ids, MostMissing)}.");
        int forged = history.Beacons.Count(beacon => beacon is { Kind: BeaconKind.Secure, Authenticated: false });
        if (forged > 0)
            paper.Paragraph($"{Phrases.Count(forged, "secure network beacon")} with a known Network ID but a wrong authentication value: forged, damaged, or of a network being refreshed.", Note, markTone: Tone.Mixed);
    }

    /// <summary>Messages whose network layer was opened but not their payload: which key would open them.</summary>
    private static void WriteClosedMessages(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        var missing = new Dictionary<string, int>();
        int closed = 0;
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref readonly MessageRow message = ref history.Messages[row];
            if (message.Decrypted || message.IsControl)
                continue;
            closed++;
            string key = message.Key == MessageKey.Device ? $"the device key of {account.Names.Full(message.Src)} or {account.Names.Full(message.Dst)}" : AppKeyWanted(history, row, message.Dst);
            missing[key] = missing.GetValueOrDefault(key) + 1;
        }
        if (closed == 0)
            return;
        List<string> keys = missing.OrderByDescending(entry => entry.Value).ThenBy(entry => entry.Key, StringComparer.Ordinal)
            .Select(entry => $"{entry.Key} ({Phrases.Number(entry.Value)})").ToList();
        paper.Paragraph($"{Phrases.Count(closed, "message")} could not be read for want of a key: {Phrases.List(keys, MostMissing)}. Give a newer export of the network (--network), or what is missing with --app-key or --device-key.", Note, markTone: Tone.Mixed);
    }

    /// <summary>The AID stands in the first octet of every lower transport access PDU: SEG(1) | AKF(1) | AID(6) (Mesh Protocol 1.1 §3.5.2.1).</summary>
    private static string AppKeyWanted(CaptureHistory history, int row, MeshAddress dst)
    {
        IReadOnlyList<int> floods = history.FloodsOf(row);
        if (floods.Count == 0 || history.Floods[floods[0]].TransportPdu is not [byte first, ..])
            return "an application key";
        byte aid = (byte)(first & 0x3F);
        bool known = history.Keys.AppKeys.Any(key => key.Aid == aid);
        return dst.IsVirtual ? $"an application key with AID 0x{aid:x2}, or the label UUID of {dst}"
            : known ? $"another application key with AID 0x{aid:x2} than the one given" : $"an application key with AID 0x{aid:x2}";
    }
}
