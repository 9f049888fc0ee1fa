using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>Command lines, keys and descriptions that cannot be used.</summary>
public sealed class BadOptionTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private readonly string _capture;

    public BadOptionTests() => _capture = _folder.Write("evening.pcap", Boathouse.Capture());

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("one digit short", "0123456789abcdef0123456789abcde")]
    [InlineData("one digit over", "0123456789abcdef0123456789abcdef0")]
    [InlineData("empty", "")]
    [InlineData("no digits", "library")]
    [InlineData("index without key", "0=")]
    [InlineData("index too high", "4096=0123456789abcdef0123456789abcdef")]
    public void KeyOfWrongForm_IsRefusedWithoutRepeatingIt(string why, string key)
    {
        Outcome outcome = Program.RunHere("explain", _capture, "--net-key", key).Ended(ExitCode.Usage);
        Assert.True(outcome.Error.Contains("--net-key", StringComparison.Ordinal), why);
        Assert.DoesNotContain("0123456789abcdef", outcome.Error, StringComparison.Ordinal);
        Assert.Empty(outcome.Output);
    }

    [Fact]
    public void KeyOfWrongLength_AsAProcess() =>
        Assert.Contains("32 needed", Program.Run("records", _capture, "--app-key", "3=0011").Ended(ExitCode.Usage).Error, StringComparison.Ordinal);

    [Theory]
    [InlineData("{\"nodes\": [", "cut")]
    [InlineData("not json", "no JSON")]
    [InlineData("", "empty")]
    [InlineData("[]", "another JSON")]
    public void MalformedDescription_IsRefusedWithItsPlace(string text, string why)
    {
        Outcome outcome = Program.Run("explain", _capture, "--network", _folder.Write("library.json", text)).Ended(ExitCode.Unreadable);
        Assert.True(outcome.Error.Contains("library.json", StringComparison.Ordinal), why);
        Assert.Contains("What to do:", outcome.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void MissingDescription_IsRefused() =>
        Assert.Contains("does not exist", Program.RunHere("explain", _capture, "--network", _folder.File("lost.json")).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);

    [Theory]
    [InlineData("no command")]
    [InlineData("unknown command", "explane")]
    [InlineData("no capture", "explain")]
    [InlineData("unknown option", "explain", "evening.pcap", "--netkey", "0123456789abcdef0123456789abcdef")]
    [InlineData("unknown form", "records", "evening.pcap", "--as", "xml")]
    [InlineData("unknown kind", "records", "evening.pcap", "--only", "presses")]
    [InlineData("unknown colour", "explain", "evening.pcap", "--colour", "green")]
    [InlineData("compose without a place", "compose", "library.json")]
    public void CommandLineThatCannotBeUnderstood_IsRefused(string why, params string[] arguments)
    {
        Outcome outcome = Program.RunHere(arguments).Ended(ExitCode.Usage);
        Assert.True(outcome.Error.Length > 0, why);
        Assert.DoesNotContain("0123456789abcdef", outcome.Error, StringComparison.Ordinal);
        Assert.Empty(outcome.Output);
    }

    [Fact]
    public void KeyInThePlaceOfACapture_IsNotRepeated() =>
        Assert.DoesNotContain("0123456789abcdef", Program.RunHere("explain", "0123456789ABCDEF0123456789abcdef").Ended(ExitCode.Unreadable).Error, StringComparison.OrdinalIgnoreCase);

    [Fact]
    public void WritingOverTheCapture_IsRefused()
    {
        byte[] before = File.ReadAllBytes(_capture);
        Assert.Contains("one of the captures", Program.RunHere(["records", _capture, "--to", _capture, .. Boathouse.Keys]).Ended(ExitCode.Usage).Error, StringComparison.Ordinal);
        Assert.Equal(before, File.ReadAllBytes(_capture));
    }

    [Fact]
    public void PlaceThatCannotBeWritten_IsTold() =>
        Assert.Contains("cannot be written", Program.RunHere(["records", _capture, "--to", _folder.File("no/such/folder.jsonl"), .. Boathouse.Keys]).Ended(ExitCode.Unwritable).Error, StringComparison.Ordinal);

    [Fact]
    public void ScenarioThatCannotBeRead_IsRefused()
    {
        Assert.Contains("scenario", Program.RunHere("compose", _folder.File("lost.json"), "--to", _folder.File("out")).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
        Assert.Contains("scenario", Program.RunHere("compose", _folder.Write("bad.json", "{"), "--to", _folder.File("out")).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
    }
}
