using System.Globalization;
using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Protocol;
using Xunit.Abstractions;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>
/// The standard's own sample Network PDUs (Mesh Protocol 1.1 §8.3 and the messages after it), wrapped as frames of link type 251, with the standard's keys, through the
/// whole program: the records must hold the standard's plaintexts.
/// </summary>
public sealed class SampleDataTests(ITestOutputHelper output)
{
    private const string SegmentAcknowledgment = "00";      // control opcode (Mesh Protocol 1.1 §3.5.2.3.1)

    private static readonly JsonElement Samples = JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(Path.Combine(AppContext.BaseDirectory, "sample-data.json")));

    [Fact]
    public void SpecVector_RecordsHoldTheStandardsPlaintexts()
    {
        List<JsonElement> samples = [.. Samples.GetProperty("vectors").EnumerateArray().Where(IsNetworkMessage)];
        using var folder = new TemporaryFolder();
        using var air = new Air();
        foreach (JsonElement sample in samples)
        {
            foreach (string pdu in Pdus(sample).Select(pdu => pdu.GetProperty("network_pdu").GetString()!))
                air.Network(Convert.FromHexString(pdu));
            air.Wait(60);       // the samples are stories of their own
        }
        Outcome outcome = Program.Run([.. Keys(samples, folder.Write("samples.pcap", air.ToArray()))]).Ended(ExitCode.Fine);
        List<JsonElement> floods = outcome.Records("flood"), messages = outcome.Records("message"), transfers = outcome.Records("transfer");

        int plaintexts = 0, transports = 0, acknowledgments = 0;
        foreach (JsonElement sample in samples)
        {
            string id = Text(sample, "id");
            JsonElement inputs = sample.GetProperty("inputs");
            foreach (JsonElement pdu in Pdus(sample))
            {
                string transport = Text(pdu.TryGetProperty("lower_transport_pdu", out _) ? pdu : inputs, "lower_transport_pdu");
                Assert.True(floods.Exists(flood => IsFrom(flood, inputs) && Seq(flood) == Hex(pdu, "seq") && Text(flood, "transportPdu") == transport
                    && flood.GetProperty("ttls")[0].GetProperty("ttl").GetInt32() == inputs.GetProperty("ttl").GetInt32()), $"{id}: no flood with transport PDU {transport}");
                transports++;
            }
            string? payload = inputs.TryGetProperty("access_payload", out JsonElement access) ? access.GetString()
                : inputs.TryGetProperty("control_parameters", out JsonElement parameters) ? parameters.GetString() : null;
            if (payload is null)
                continue;
            if (inputs.TryGetProperty("control_opcode", out JsonElement opcode) && opcode.GetString() == SegmentAcknowledgment)
            {
                // Segment Acknowledgments stand with the transfer that they acknowledge; BlockAck is the last four octets.
                Assert.True(transfers.Exists(transfer => Array(transfer, "acks").Exists(ack => Text(ack, "block") == "0x" + payload[^8..].ToUpperInvariant())), $"{id}: no such acknowledgment");
                acknowledgments++;
                continue;
            }
            JsonElement message = messages.Find(message => IsFrom(message, inputs) && Seq(message) == Hex(inputs, "seq") && Text(message, "payload") == payload);
            Assert.True(message.ValueKind == JsonValueKind.Object, $"{id}: no message with payload {payload}");
            Assert.True(message.GetProperty("decrypted").GetBoolean(), id);
            Assert.Equal(inputs.TryGetProperty("access_payload", out _) ? "access" : "control", Text(message, "kind"));
            if (inputs.TryGetProperty("label_uuid", out JsonElement label))
                Assert.Equal(label.GetString(), Text(message, "label").Replace("-", "", StringComparison.Ordinal));
            if (opcode.ValueKind == JsonValueKind.String)
                Assert.Equal("0x" + opcode.GetString()!.ToUpperInvariant(), Text(message, "opcode"));
            plaintexts++;
        }
        output.WriteLine($"{samples.Count} samples: {transports} transport PDUs, {plaintexts} payloads and {acknowledgments} acknowledgments as the standard prints them");
        Assert.True(plaintexts >= 80, $"only {plaintexts} payloads were compared");
    }

    /// <summary>Samples that are sent as mesh messages under managed flooding, friendship or directed credentials.</summary>
    private static bool IsNetworkMessage(JsonElement sample) =>
        Text(sample, "kind") is "message" or "network_pdu";

    private static JsonElement[] Pdus(JsonElement sample) => sample.GetProperty("outputs").TryGetProperty("pdus", out JsonElement pdus) ? [.. pdus.EnumerateArray()] : [];

    private static List<JsonElement> Array(JsonElement element, string name) => [.. element.GetProperty(name).EnumerateArray()];

    private static List<string> Keys(List<JsonElement> samples, string capture)
    {
        var keys = new HashSet<string> { "records", capture, "--reveal-keys", "--iv-index", "0x12345678" };
        List<string> arguments = [.. keys];
        void Add(string option, string value)
        {
            if (keys.Add(option + value))
                arguments.AddRange([option, value]);
        }
        foreach (JsonElement inputs in samples.Select(sample => sample.GetProperty("inputs")))
        {
            Add("--net-key", Text(inputs, "net_key"));
            if (inputs.TryGetProperty("app_key", out JsonElement app))
                Add("--app-key", app.GetString()!);
            if (inputs.TryGetProperty("label_uuid", out JsonElement label))
                Add("--label", label.GetString()!);
            // The samples use one device key, that of the node which a message is from or to.
            if (inputs.TryGetProperty("dev_key", out JsonElement device))
            {
                Add("--device-key", Text(inputs, "src") + "=" + device.GetString());
                if (MeshAddress.TryParse(Text(inputs, "dst"), out MeshAddress dst) && dst.IsUnicast)
                    Add("--device-key", Text(inputs, "dst") + "=" + device.GetString());
            }
        }
        return arguments;
    }

    private static bool IsFrom(JsonElement record, JsonElement inputs) =>
        Text(record, "src") == "0x" + Text(inputs, "src").ToUpperInvariant() && Text(record, "dst") == "0x" + Text(inputs, "dst").ToUpperInvariant()
        && record.GetProperty("ivIndex").GetUInt32() == Hex(inputs, "iv_index");

    private static uint Seq(JsonElement record) => record.GetProperty("seq").GetUInt32();

    private static uint Hex(JsonElement element, string name) => uint.Parse(Text(element, name), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture);

    private static string Text(JsonElement element, string name) => element.GetProperty(name).GetString() ?? "";
}
