using System.Globalization;
using System.Text;
using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>The built program on lines pasted from logs: what it takes each for, what it makes of them, and what it could not use.</summary>
public sealed class TextLogTests : IDisposable
{
    // Mesh Protocol 1.1 §8.3.1, Message #1: a Friend Request, with the NetKey of §8.1 and the IV index of §8.3.
    private const string Message1 = "68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df", SampleNetKey = "7dd7364cd842ad18c17c2b820c84c3d6", SampleIvIndex = "0x12345678";

    private readonly TemporaryFolder _folder = new();

    [Fact]
    public void ALogOfAPhonesValues_GivesTheSession()
    {
        PhoneSetup setup = PhoneSetup.Compose(new PhoneSetupPlan { ClientMtu = 23 });
        var log = new StringBuilder("Log of a phone\n");
        foreach (ScriptedPdu pdu in setup.Connections.SelectMany(connection => connection.Pdus).Where(pdu => pdu.AttPdu[0] is 0x52 or 0x1B))
        {
            DateTime time = new DateTime(2026, 3, 2, 18, 0, 0, DateTimeKind.Utc).AddMicroseconds(pdu.TimeUs);
            log.Append(CultureInfo.InvariantCulture, $"{time:yyyy-MM-dd HH:mm:ss.ffffff} {(pdu.FromClient ? "Write Command" : "Notification")}: {Spaced(pdu.AttPdu[3..])}\n");
        }
        string file = _folder.Write("phone.log", log.ToString()), key = Convert.ToHexString(setup.ProvisionerPrivateKey.Span);

        Outcome outcome = Program.Run("records", file, "--provisioning-key", key).Ended(ExitCode.Fine);
        RecordsSchema.Check(outcome.Records(), "contract", "frame", "flood", "message", "press", "provisioning", "connection", "node", "event");
        Assert.Equal(["0x0010", "0x0012"], outcome.Records("provisioning").Select(link => link.GetProperty("unicast").GetString()));
        Assert.Equal(["on", "off", "on", "off"], outcome.Records("press").Select(press => press.GetProperty("asks").GetString()));
        Assert.All(outcome.Records("press"), press => Assert.Equal(2, press.GetProperty("answered").GetArrayLength()));
        Assert.All(outcome.Records("frame").Where(frame => frame.GetProperty("line").GetInt32() > 1), frame => Assert.Equal("proxy-pdu", frame.GetProperty("takenFor").GetString()));
        Assert.StartsWith("2026-03-02T18:00:", outcome.Records("press")[0].GetProperty("time").GetString(), StringComparison.Ordinal);

        string words = InOneLine(Program.Run("explain", file, "--provisioning-key", key).Ended(ExitCode.Fine).Output);
        Assert.Contains("joins the network as 0x0010 over PB-GATT after", words, StringComparison.Ordinal);
        Assert.Contains("Text log:", words, StringComparison.Ordinal);
    }

    [Fact]
    public void EachLine_IsToldWhatItWasTakenFor_AndWhatCouldNotBeUsedIsCounted()
    {
        string file = _folder.Write("node.log", $"""
            boot: reset reason 1
            [  12.345678] TX network pdu {Message1}
            [  12.400000] sends access payload 82 02 01 05
            [  12.500000] checksum a1b2c3
            NetKey: {SampleNetKey}
            done

            """);
        string[] keys = ["--net-key", SampleNetKey, "--iv-index", SampleIvIndex];
        Outcome outcome = Program.Run(["records", file, "--only", "frame,flood", .. keys]).Ended(ExitCode.Fine);
        Assert.Equal([(2, "network-pdu", "net-mic"), (3, "access-payload", "words"), (4, "unclear", null), (5, "key", null)], outcome.Records("frame")
            .Where(frame => frame.GetProperty("takenFor").GetString() is not "no-octets")
            .Select(frame => (frame.GetProperty("line").GetInt32(), frame.GetProperty("takenFor").GetString(), Because(frame))));
        JsonElement flood = Assert.Single(outcome.Records("flood"));
        Assert.Equal(("0x1201", "0xFFFD"), (flood.GetProperty("src").GetString(), flood.GetProperty("dst").GetString()));

        string words = InOneLine(Program.Run(["explain", file, .. keys]).Ended(ExitCode.Fine).Output);
        foreach (string told in (string[])["Text log: 6 lines", "1 Network PDU (line 2)", "1 access payload (line 3)", "1 line whose octets fit nothing (line 4)", "2 lines without octets (lines 1 and 6)",
            "1 line about keys, which was not looked at (line 5)", "Line 3: Generic OnOff Set, of which the log tells no addresses."])
            Assert.Contains(told, words, StringComparison.Ordinal);
        Assert.DoesNotContain(SampleNetKey, words, StringComparison.OrdinalIgnoreCase);
    }

    /// <summary>Provisioning PDUs by themselves do not tell what carried them.</summary>
    [Fact]
    public void ProvisioningPdusWithoutABearer_AreOverNone()
    {
        string file = _folder.Write("provisioner.log", "10:00:00 TX provisioning pdu 00 05\n10:00:01 RX provisioning pdu 01 01 00 01 00 00 00 00 00 00 00 00\n");
        string words = InOneLine(Program.Run("explain", file).Output);
        Assert.Contains("provisioning of a device begins", words, StringComparison.Ordinal);
        Assert.DoesNotContain("over PB-", words, StringComparison.Ordinal);
    }

    /// <summary>Logs write a PDU once a layer: that is no second try.</summary>
    [Fact]
    public void APduThatStandsTwice_IsOne()
    {
        string file = _folder.Write("layers.log", "10:00:00 TX provisioning pdu 0005\n10:00:00.002 sent provisioning 00 05\n10:00:01 RX provisioning pdu 010100010000000000000000\n10:00:20 TX provisioning pdu 0005\n");
        Assert.Equal([1, 0], Program.Run("records", file, "--only", "provisioning").Ended(ExitCode.Fine).Records("provisioning").Select(link => link.GetProperty("retransmissions").GetInt32()));
    }

    [Fact]
    public void ATextWithoutOctets_IsRefusedWithWhatIsReadInstead()
    {
        Outcome outcome = Program.Run("explain", _folder.Write("letter.txt", "Dear library,\nthe lamp on the stairs did not come on.\n")).Ended(ExitCode.Unreadable);
        Assert.Contains("letter.txt' is text, not a capture", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("or a log with octets in hexadecimal in its lines", outcome.Error, StringComparison.Ordinal);
        Assert.Empty(outcome.Output);
    }

    [Theory, InlineData("utf-16"), InlineData("utf-16BE")]
    public void ALogInUtf16_IsRefusedWithWhatToDo(string encoding)
    {
        var writer = Encoding.GetEncoding(encoding);
        string file = _folder.Write("saved.log", [.. writer.GetPreamble(), .. writer.GetBytes($"12:00:00 TX {Message1}\n")]);
        Assert.Contains("is text in UTF-16: if it is a log with octets in hexadecimal, save it as UTF-8", Program.RunHere("explain", file).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
    }

    public void Dispose() => _folder.Dispose();

    private static string? Because(JsonElement frame) => frame.GetProperty("because").GetString() is { } why && frame.GetProperty("takenFor").GetString() is not ("unclear" or "key") ? why : null;

    private static string Spaced(byte[] octets) => string.Join(' ', octets.Select(octet => octet.ToString("X2", CultureInfo.InvariantCulture)));

    private static string InOneLine(string words) => string.Join(' ', words.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
}
