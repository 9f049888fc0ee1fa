using System.IO.Compression;
using System.Text.Json;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>How captures and keys come in, and how results go out.</summary>
public sealed class WaysInTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void StandardInput_IsReadAsAFile()
    {
        Outcome piped = Program.Run(["records", "-", .. Boathouse.Keys], Boathouse.Capture()).Ended(ExitCode.Fine);
        Assert.Equal(4, piped.Records("flood").Count);
        Assert.All(piped.Records("frame"), frame => Assert.Equal("-", frame.GetProperty("file").GetString()));
    }

    [Fact]
    public void Gzip_GivesTheSameRecords()
    {
        byte[] plain = Boathouse.Capture();
        using var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Optimal, leaveOpen: true))
            gzip.Write(plain);
        string one = _folder.Write("a/evening.pcap".Replace('/', '-'), plain), other = _folder.Write("evening.pcap.gz", packed.ToArray());
        Assert.Equal(
            Program.RunHere(["records", one, "--only", "flood,message,press", .. Boathouse.Keys]).Ended(ExitCode.Fine).Records().Skip(1).Select(record => record.GetRawText()),
            Program.Run(["records", other, "--only", "flood,message,press", .. Boathouse.Keys]).Ended(ExitCode.Fine).Records().Skip(1).Select(record => record.GetRawText()));
    }

    [Fact]
    public void SeveralFiles_AreNumberedThrough()
    {
        string first = _folder.Write("first.pcap", Boathouse.Capture()), second = _folder.Write("second.pcap", Boathouse.Capture());
        Outcome outcome = Program.Run(["records", first, second, .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Equal([1, 2], outcome.Records("frame").Select(frame => frame.GetProperty("receiver").GetInt32()).Distinct());
        Assert.Equal(["first.pcap", "second.pcap"], outcome.Records("contract").Single().GetProperty("receivers").EnumerateArray().Select(receiver => Path.GetFileName(receiver.GetProperty("file").GetString()!)));
        Assert.Equal(Enumerable.Range(1, 10), outcome.Records("frame").Select(frame => frame.GetProperty("frame").GetInt32()));
    }

    [Fact]
    public void OneDamagedFileOfSeveral_DoesNotStopTheOthers()
    {
        byte[] capture = Boathouse.Capture();
        string cut = _folder.Write("cut.pcap", capture.AsSpan(0, capture.Length - 3)), whole = _folder.Write("whole.pcap", capture);
        Outcome outcome = Program.RunHere(["records", cut, whole, .. Boathouse.Keys]).Ended(ExitCode.Damaged);
        Assert.Equal(4 + 5 + 1, outcome.Records("frame").Count);
        Assert.Contains("cut.pcap", outcome.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void KeysFromFileAndEnvironment_OpenTheSame()
    {
        string capture = _folder.Write("evening.pcap", Boathouse.Capture());
        string keys = _folder.Write("site.keys", $"# the boathouse\n0={Boathouse.NetKeyHex}\n");
        Outcome outcome = Program.Run(["records", capture, "--net-key", "@" + keys], null, ("MESHTRACE_APP_KEY", "0=" + Boathouse.AppKeyHex)).Ended(ExitCode.Fine);
        Assert.All(outcome.Records("message"), message => Assert.True(message.GetProperty("decrypted").GetBoolean()));
    }

    [Fact]
    public void Keys_AppearOnlyWhenAskedForByName()
    {
        string capture = _folder.Write("evening.pcap", Boathouse.Capture());
        foreach (string command in (string[])["explain", "records"])
        {
            Outcome silent = Program.RunHere([command, capture, .. Boathouse.Keys]).Ended(ExitCode.Fine);
            Assert.DoesNotContain(Boathouse.NetKeyHex, silent.Output + silent.Error, StringComparison.OrdinalIgnoreCase);
            Assert.DoesNotContain(Boathouse.AppKeyHex, silent.Output + silent.Error, StringComparison.OrdinalIgnoreCase);
        }
        Outcome revealed = Program.Run(["records", capture, "--reveal-keys", .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Contains("warning", revealed.Error, StringComparison.Ordinal);
        Assert.Equal([Boathouse.NetKeyHex, Boathouse.AppKeyHex], revealed.Records("key").Select(key => key.GetProperty("octets").GetString()));
    }

    /// <summary>The boathouse demo hands an AppKey to its lamp in a Config AppKey Add: opened, that message holds the key in clear.</summary>
    [Theory, InlineData("boathouse"), InlineData("library")]
    public void NoKeyOfTheDescription_IsInAnyOutput_NotEvenWithinAMessageThatHandsItOut(string demo)
    {
        string capture = Repository.Demo(demo + ".pcapng"), description = Repository.Demo(demo + ".network.json");
        using JsonDocument network = JsonDocument.Parse(File.ReadAllText(description));
        List<string> keys = [.. new[] { ("netKeys", "key"), ("appKeys", "key"), ("nodes", "deviceKey") }.SelectMany(part =>
            network.RootElement.GetProperty(part.Item1).EnumerateArray().Select(one => one.GetProperty(part.Item2).GetString()!))];
        Assert.NotEmpty(keys);
        foreach (string command in (string[])["explain", "records"])
        {
            Outcome outcome = Program.Run([command, capture, "--network", description]).Ended(ExitCode.Fine);
            Assert.All(keys, key => Assert.False((outcome.Output + outcome.Error).Contains(key, StringComparison.OrdinalIgnoreCase), $"{command} shows a key of {demo}"));
        }
    }

    [Fact]
    public void AMessageThatHandsOutAKey_KeepsItsOtherFields_AndIsWholeWhenKeysAreRevealed()
    {
        string[] arguments = ["records", Repository.Demo("boathouse.pcapng"), "--network", Repository.Demo("boathouse.network.json"), "--only", "message"];
        JsonElement hidden = Program.Run(arguments).Ended(ExitCode.Fine).Records("message").First(IsAppKeyAdd);
        JsonElement shown = Program.Run([.. arguments, "--reveal-keys"]).Ended(ExitCode.Fine).Records("message").First(IsAppKeyAdd);
        Assert.Equal((JsonValueKind.Null, JsonValueKind.Null), (hidden.GetProperty("payload").ValueKind, hidden.GetProperty("fields").GetProperty("AppKey").ValueKind));
        Assert.Equal(shown.GetProperty("fields").GetProperty("AppKeyIndex").GetInt32(), hidden.GetProperty("fields").GetProperty("AppKeyIndex").GetInt32());
        Assert.True(hidden.GetProperty("decrypted").GetBoolean());
        Assert.Equal(32, shown.GetProperty("fields").GetProperty("AppKey").GetString()!.Length);
        Assert.Contains(shown.GetProperty("fields").GetProperty("AppKey").GetString()!, shown.GetProperty("payload").GetString()!, StringComparison.Ordinal);

        static bool IsAppKeyAdd(JsonElement message) => message.GetProperty("name").GetString() == "Config AppKey Add";
    }

    [Fact]
    public void FileAsTarget_HoldsWhatStandardOutputWould()
    {
        string capture = _folder.Write("evening.pcap", Boathouse.Capture()), target = _folder.File("evening.jsonl");
        Assert.Empty(Program.Run(["records", capture, "--to", target, .. Boathouse.Keys]).Ended(ExitCode.Fine).Output);
        Assert.Equal(Program.RunHere(["records", capture, .. Boathouse.Keys]).Ended(ExitCode.Fine).Output, File.ReadAllText(target));
    }

    [Fact]
    public void RedirectedOutput_HoldsNeitherColourNorProgress()
    {
        string capture = _folder.Write("evening.pcap", Boathouse.Capture());
        Outcome outcome = Program.Run(["explain", capture, .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.DoesNotContain('\e', outcome.Output + outcome.Error);
        Assert.Empty(outcome.Error);
    }

    [Theory]
    [InlineData("auto", true, null, null, true)]
    [InlineData("auto", true, "1", null, false)]
    [InlineData("auto", true, "", null, true)]
    [InlineData("auto", true, null, "dumb", false)]
    [InlineData("auto", false, null, null, false)]
    [InlineData("always", false, "1", null, true)]
    [InlineData("never", true, null, null, false)]
    public void Colour_FollowsTerminalAndEnvironment(string when, bool terminal, string? noColour, string? term, bool coloured)
    {
        string capture = _folder.Write("evening.pcap", Boathouse.Capture());
        Outcome outcome = Program.RunHere(["explain", capture, "--colour", when, .. Boathouse.Keys], name => name switch { "NO_COLOR" => noColour, "TERM" => term, _ => null }, terminal).Ended(ExitCode.Fine);
        Assert.Equal(coloured, outcome.Output.Contains('\e', StringComparison.Ordinal));
    }

    [Fact]
    public void ClosedPipe_EndsQuietly()
    {
        string capture = _folder.Write("evening.pcap", LongCapture());
        using System.Diagnostics.Process process = Program.Start(["records", capture, .. Boathouse.Keys]);
        Assert.StartsWith("{\"record\":\"contract\"", process.StandardOutput.ReadLine(), StringComparison.Ordinal);
        process.StandardOutput.Close();
        Assert.Empty(process.StandardError.ReadToEnd());
        Assert.True(process.WaitForExit(60_000));
        Assert.Equal(ExitCode.Fine, process.ExitCode);
    }

    /// <summary>More than a pipe and all buffers before it hold.</summary>
    private static byte[] LongCapture()
    {
        using var air = new Air();
        for (int i = 0; i < 4_000; i++)
            air.Beacon(Boathouse.NetKey, Boathouse.IvIndex);
        Boathouse.Story(air, Boathouse.NetKey);
        return air.ToArray();
    }
}
