using System.Text.Json;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>The built program on the log of a phone that sets up two lamps and switches them, given the private key of its provisioning.</summary>
public sealed class PhoneLogTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private readonly PhoneSetup _setup = PhoneSetup.Compose();

    [Theory, InlineData(HostLogForm.BtSnoopH4), InlineData(HostLogForm.PcapH4WithDirection)]
    public void Records_HoldProvisioningConfigurationPressesAndConnections(HostLogForm form)
    {
        Outcome outcome = Program.Run("records", Log(form), "--provisioning-key", Convert.ToHexString(_setup.ProvisionerPrivateKey.Span)).Ended(0);
        List<JsonElement> records = outcome.Records();
        RecordsSchema.Check(records, "contract", "frame", "flood", "message", "transfer", "press", "beacon", "provisioning", "connection", "node", "event");

        Assert.All(outcome.Records("provisioning"), link => Assert.Equal(("complete", "pb-gatt", true),
            (link.GetProperty("outcome").GetString(), link.GetProperty("bearer").GetString(), link.GetProperty("keysLearnt").GetBoolean())));
        Assert.Equal(["0x0010", "0x0012"], outcome.Records("provisioning").Select(link => link.GetProperty("unicast").GetString()));
        Assert.Equal(["on", "off", "on", "off"], outcome.Records("press").Select(press => press.GetProperty("asks").GetString()));
        Assert.All(outcome.Records("press"), press => Assert.Equal(2, press.GetProperty("answered").GetArrayLength()));
        Assert.Equal([null, null, "discovered"], outcome.Records("connection").Select(connection => connection.GetProperty("proxy").GetString()));
        Assert.All(outcome.Records("flood"), flood => Assert.StartsWith("gatt-from-", flood.GetProperty("copies")[0].GetProperty("bearer").GetString(), StringComparison.Ordinal));
        string[] messages = [.. outcome.Records("message").Select(message => message.GetProperty("name").GetString()!)];
        foreach (string name in (string[])["Config Composition Data Status", "Config AppKey Add", "Config Model App Bind", "Config Model Subscription Add", "Generic OnOff Set", "Generic OnOff Status"])
            Assert.Contains(name, messages);
        foreach (ReadOnlyMemory<byte> secret in (ReadOnlyMemory<byte>[])[PhoneSetup.NetKey, PhoneSetup.AppKey, _setup.Nodes[0].DeviceKey, _setup.ProvisionerPrivateKey])
            Assert.DoesNotContain(Convert.ToHexStringLower(secret.Span), outcome.Output, StringComparison.OrdinalIgnoreCase);
    }

    [Fact]
    public void Explain_TellsOfTheConnections()
    {
        Outcome outcome = Program.Run("explain", Log(HostLogForm.BtSnoopH4), "--provisioning-key", Convert.ToHexString(_setup.ProvisionerPrivateKey.Span)).Ended(0);
        string words = outcome.Output.ReplaceLineEndings(" ").Replace("       ", " ", StringComparison.Ordinal);
        Assert.Contains("Connections: 3", words, StringComparison.Ordinal);
        Assert.Contains("Mesh Provisioning Service: 11 provisioning PDUs", words, StringComparison.Ordinal);
        Assert.Contains("Proxy filter at the end: accept list, 0x0001 and 0xC000", words, StringComparison.Ordinal);
    }

    [Fact]
    public void Explain_WithoutKeys_TellsWhatItIs()
    {
        Outcome outcome = Program.Run("explain", Log(HostLogForm.BtSnoopH4));
        Assert.Contains("filter messages (4 not opened by any key)", outcome.Output.ReplaceLineEndings(" ").Replace("       ", " ", StringComparison.Ordinal), StringComparison.Ordinal);
    }

    public void Dispose() => _folder.Dispose();

    private string Log(HostLogForm form)
    {
        using var log = new MemoryStream();
        HostLogWriter.Write(log, _setup.Connections, form);
        return _folder.Write("phone.log", log.ToArray());
    }
}
