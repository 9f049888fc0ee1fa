using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>The built program on a receiver's recording of a phone's connections: data channel PDUs from the air, a sixth of them damaged.</summary>
public sealed class AirConnectionTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private readonly PhoneSetup _setup = PhoneSetup.Compose();

    [Theory, InlineData(256), InlineData(272)]
    public void Records_HoldTheWholeSession(int linkType)
    {
        Outcome outcome = Program.Run("records", Recorded(new AirRecording { LinkType = new LinkType(linkType), Retransmitted = 0.2 }), "--provisioning-key", PrivateKey).Ended(ExitCode.Fine);
        RecordsSchema.Check(outcome.Records(), "contract", "frame", "flood", "message", "transfer", "press", "beacon", "provisioning", "connection", "node", "event");

        Assert.Equal(["0x0010", "0x0012"], outcome.Records("provisioning").Select(link => link.GetProperty("unicast").GetString()));
        Assert.All(outcome.Records("provisioning"), link => Assert.Equal(("complete", "pb-gatt", true),
            (link.GetProperty("outcome").GetString(), link.GetProperty("bearer").GetString(), link.GetProperty("keysLearnt").GetBoolean())));
        Assert.Equal(["on", "off", "on", "off"], outcome.Records("press").Select(press => press.GetProperty("asks").GetString()));
        Assert.All(outcome.Records("press"), press => Assert.Equal(2, press.GetProperty("answered").GetArrayLength()));
        Assert.Equal(_setup.ConfigMessages, outcome.Records("message").Count(message => message.GetProperty("name").GetString()!.StartsWith("Config", StringComparison.Ordinal)
            && message.GetProperty("name").GetString()!.EndsWith("Status", StringComparison.Ordinal)));
        Assert.All(outcome.Records("connection"), connection => Assert.Equal((30.0, "none", true), (connection.GetProperty("intervalMs").GetDouble(),
            connection.GetProperty("encryption").GetString(), connection.GetProperty("counts").GetProperty("repeated").GetInt32() > 0)));
    }

    [Fact]
    public void DamagedPackets_AreCountedForTheChannel_AndNeverDecoded()
    {
        string capture = Recorded(new AirRecording { BadCrc = 1 / 6.0, Seed = 3 }, out AirCaptureWriter air);
        Outcome outcome = Program.Run("records", capture, "--only", "frame,connection").Ended(ExitCode.NothingDecoded);
        List<JsonElement> damaged = [.. outcome.Records("frame").Where(frame => frame.GetProperty("crc").GetString() == "bad")];
        Assert.Equal((air.BadCrcRecorded, air.BadCrcRecorded), (damaged.Count, outcome.Records("connection").Sum(connection => connection.GetProperty("counts").GetProperty("badCrc").GetInt32())));
        Assert.All(damaged, frame => Assert.Equal(JsonValueKind.Null, frame.GetProperty("flood").ValueKind));
        string words = InOneLine(Program.Run("explain", capture));
        Assert.All(outcome.Records("connection"), connection =>
            Assert.Contains($"Not used: {connection.GetProperty("counts").GetProperty("badCrc").GetInt32()} packets with a wrong CRC", words, StringComparison.Ordinal));
    }

    [Fact]
    public void Explain_TellsWhoJoined_OverWhichBearer()
    {
        string words = InOneLine(Program.Run("explain", Recorded(new AirRecording()), "--provisioning-key", PrivateKey).Ended(ExitCode.Fine));
        foreach (SetUpNode node in _setup.Nodes)
            Assert.Contains($"device {node.DeviceUuid} joins the network as 0x{node.Unicast:X4} over PB-GATT after", words, StringComparison.Ordinal);
        Assert.Contains("Connections: 3", words, StringComparison.Ordinal);
    }

    [Fact]
    public void EncryptedConnections_AreToldAsSuch()
    {
        Outcome outcome = Program.Run("explain", Recorded(new AirRecording { Encrypts = true }), "--provisioning-key", PrivateKey).Ended(ExitCode.NothingDecoded);
        Assert.Contains("encrypted", InOneLine(outcome), StringComparison.Ordinal);
        Assert.DoesNotContain("joins the network", outcome.Output, StringComparison.Ordinal);
        Assert.Contains("3 connections are encrypted, and what they carry cannot be read from the air", outcome.Error, StringComparison.Ordinal);
        Assert.DoesNotContain("ended by this side", InOneLine(Program.Run("explain", Recorded(new AirRecording()))), StringComparison.Ordinal);
    }

    public void Dispose() => _folder.Dispose();

    private string PrivateKey => Convert.ToHexString(_setup.ProvisionerPrivateKey.Span);

    private static string InOneLine(Outcome outcome) => string.Join(' ', outcome.Output.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

    private string Recorded(AirRecording recording) => Recorded(recording, out _);

    private string Recorded(AirRecording recording, out AirCaptureWriter air)
    {
        using var capture = new MemoryStream();
        air = AirCaptureWriter.Write(capture, _setup.Connections, recording);
        return _folder.Write("connections.pcap", capture.ToArray());
    }
}
