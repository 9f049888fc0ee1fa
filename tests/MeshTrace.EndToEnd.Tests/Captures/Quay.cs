using System.Text.Json;
using System.Text.RegularExpressions;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests.Captures;

/// <summary>
/// A composed network whose names and addresses stand nowhere else by chance, with everything in it that could give one away: a device that joins and is set up, a
/// friendship, a label, a phone at a proxy, heartbeats, vendor messages, neighbours.
/// </summary>
internal sealed partial class Quay
{
    private const string Scenario = """
        {
          "scenario": 1, "name": "quay", "says": "A quay.", "seed": 77, "start": "2026-05-09T08:00:00Z", "lastsS": 150,
          "network": {
            "name": "Zephyr quay", "ivIndex": 9,
            "netKeys": [{"index": 0, "name": "Zephyr net"}],
            "appKeys": [{"index": 0, "name": "Zephyr lamps"}, {"index": 1, "name": "Zephyr doors"}],
            "groups": [{"name": "Zephyr hall", "address": "D3A7"}, {"name": "Zephyr pier", "label": "5a651e0f77a14b6c9d20c3f4e5a6b7c8"}]
          },
          "nodes": [
            {"name": "Zephyr tablet", "unicast": "5A11", "place": [5, 4], "elements": [{"models": ["0001"]}]},
            {"name": "Zephyr panel", "unicast": "5A21", "place": [1, 2], "address": "public", "heartbeat": {"to": "Zephyr hall", "periodS": 16, "ttl": 5}, "elements": [
              {"name": "Zephyr left", "models": ["1001"], "publish": {"to": "Zephyr hall"}},
              {"name": "Zephyr right", "models": ["1001"], "bind": [1], "publish": {"to": "Zephyr pier", "appKey": 1}}]},
            {"name": "Zephyr lamp one", "unicast": "5A31", "place": [8, 6], "relay": true, "friend": true, "proxy": true, "beacon": true, "privateBeacon": true,
              "elements": [{"models": ["1000", "1300"], "subscribe": ["Zephyr hall", "Zephyr pier"], "bind": [0, 1]}]},
            {"name": "Zephyr lamp two", "unicast": "5A41", "place": [9, 3], "lowPower": true, "friendship": {"pollS": 4}, "elements": [{"models": ["1000"], "subscribe": ["Zephyr hall"]}]},
            {"name": "Zephyr newcomer", "unicast": "5A51", "place": [12, 5], "configured": false, "elements": [{"models": ["1000"], "subscribe": ["Zephyr hall"]}, {"models": ["1002"]}]},
            {"name": "Zephyr phone", "unicast": "5A61", "place": [7, 5], "phone": {"proxy": "Zephyr lamp one", "fromS": 2}, "elements": [{"models": ["1001"], "publish": {"to": "Zephyr hall"}}]}
          ],
          "receivers": [
            {"name": "Zephyr receiver", "place": [5, 5], "linkType": 256, "channels": "three", "keepsDamaged": true},
            {"name": "Zephyr host", "place": [6, 5], "linkType": 187, "channels": "three"}
          ],
          "noise": [{"kind": "phone", "place": [4, 4], "count": 2, "intervalMs": 1200}, {"kind": "network", "place": [4, 6], "count": 2, "intervalMs": 3000}],
          "schedule": [
            {"atS": 6, "press": "Zephyr panel", "asks": "on", "acknowledged": true},
            {"atS": 12, "press": "Zephyr panel", "element": 1, "asks": "on", "acknowledged": true},
            {"atS": 20, "press": "Zephyr phone", "asks": "off", "acknowledged": true},
            {"atS": 30, "provision": "Zephyr newcomer", "by": "Zephyr tablet"},
            {"atS": 45, "configure": "Zephyr newcomer", "by": "Zephyr tablet"},
            {"atS": 110, "press": "Zephyr panel", "asks": "on", "acknowledged": true},
            {"atS": 120, "transfer": "Zephyr tablet", "to": "Zephyr lamp one", "octets": 60},
            {"atS": 130, "press": "Zephyr panel", "element": 1, "asks": "off", "acknowledged": true}
          ]
        }
        """;

    public Quay(TemporaryFolder folder)
    {
        Program.RunHere("compose", folder.Write("quay.scenario.json", Scenario), "--to", folder.File("")).Ended(ExitCode.Fine);
        Capture = folder.File("quay.pcapng");
        Network = folder.File("quay.network.json");
        string description = File.ReadAllText(Network);
        Keys = [.. DescribedKeys.Of(Network), .. Labels()];
        Uuids = [.. UuidForm().Matches(description).Select(match => match.Value).Distinct()];
        Addresses = [.. AddressForm().Matches(description).Select(match => "0x" + match.Groups[1].Value).Distinct()];
        DeviceAddresses = [.. Program.RunHere("records", Capture, "--network", Network, "--only", "frame").Ended(ExitCode.Fine).Records("frame")
            .Select(frame => frame.GetProperty("advertiser").GetString()!).Where(address => address is not null).Distinct()];
        PrivateKey = JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(folder.File("quay.truth.json"))).GetProperty("provisionings")[0].GetProperty("privateKey").GetString()!;
    }

    public string Capture { get; }
    public string Network { get; }

    /// <summary>Of the provisioner, in hexadecimal.</summary>
    public string PrivateKey { get; }

    /// <summary>All keys and labels, in hexadecimal.</summary>
    public IReadOnlyList<string> Keys { get; }
    public IReadOnlyList<string> Uuids { get; }

    /// <summary>Unicast addresses and the group, 0x5A11 and so on.</summary>
    public IReadOnlyList<string> Addresses { get; }

    /// <summary>Of every advertiser heard, as the records write them.</summary>
    public IReadOnlyList<string> DeviceAddresses { get; }

    /// <summary>Every name begins so.</summary>
    public const string Names = "Zephyr";

    /// <summary>Finds nothing of the network in a text.</summary>
    public void IsNotIn(string text)
    {
        Assert.DoesNotContain(Names, text, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("quay", text, StringComparison.OrdinalIgnoreCase);        // the capture's own name
        foreach (string real in Keys.Concat(Uuids).Concat(Uuids.Select(uuid => uuid.Replace("-", "", StringComparison.Ordinal))).Concat(Addresses).Concat(DeviceAddresses).Append(PrivateKey))
            Assert.DoesNotContain(real, text, StringComparison.OrdinalIgnoreCase);
    }

    /// <summary>Finds nothing of the network in octets that tell it in the clear.</summary>
    public void IsNotIn(ReadOnlySpan<byte> octets)
    {
        string text = Convert.ToHexString(octets);
        Assert.DoesNotContain(Convert.ToHexString("Zephyr"u8), text, StringComparison.Ordinal);
        foreach (string real in Keys.Concat(Uuids).Concat(DeviceAddresses))
        {
            byte[] wire = Convert.FromHexString(real.Replace("-", "", StringComparison.Ordinal).Replace(":", "", StringComparison.Ordinal));
            Assert.DoesNotContain(Convert.ToHexString(wire), text, StringComparison.Ordinal);
            Array.Reverse(wire);
            Assert.DoesNotContain(Convert.ToHexString(wire), text, StringComparison.Ordinal);
        }
    }

    private IEnumerable<string> Labels() => LabelForm().Matches(File.ReadAllText(Network)).Select(match => match.Groups[1].Value).Distinct();

    [GeneratedRegex("[0-9a-fA-F]{8}-[0-9a-fA-F]{4}-[0-9a-fA-F]{4}-[0-9a-fA-F]{4}-[0-9a-fA-F]{12}", RegexOptions.CultureInvariant)]
    private static partial Regex UuidForm();

    [GeneratedRegex("\"(5A[0-9A-F]{2}|D3A7)\"", RegexOptions.CultureInvariant)]
    private static partial Regex AddressForm();

    [GeneratedRegex("\"address\": \"([0-9A-Fa-f]{32})\"", RegexOptions.CultureInvariant)]
    private static partial Regex LabelForm();
}
