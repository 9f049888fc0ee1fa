using System.Text;
using MeshTrace.Commands;

namespace MeshTrace.Tests.Commands;

public sealed class ApplicationTests
{
    [Theory]
    [InlineData("nothing in it", "nothing in it")]
    [InlineData("there is no file '00112233445566778899aabbccddeeff'", "there is no file '(a key?)'")]
    [InlineData("0=00112233445566778899AABBCCDDEEFF0 and so on", "0=(a key?) and so on")]
    [InlineData("31 digits: 00112233445566778899aabbccddeef", "31 digits: 00112233445566778899aabbccddeef")]
    [InlineData("00112233445566778899aabbccddeeff", "(a key?)")]
    [InlineData("", "")]
    public void Messages_HoldNothingThatCouldBeAKey(string said, string shown) => Assert.Equal(shown, Application.HideKeys(said));

    [Fact]
    public void Help_AndVersion_GoToStandardOutput()
    {
        Assert.StartsWith("MeshTrace tells", Run(ExitCode.Fine, "--help").Output, StringComparison.Ordinal);
        Assert.StartsWith("Writes everything", Run(ExitCode.Fine, "records", "--help").Output, StringComparison.Ordinal);
        Assert.Matches(@"^meshtrace \d+\.\d+\.\d+\n$", Run(ExitCode.Fine, "--version").Output);
    }

    [Fact]
    public void WithoutArguments_TheHelpIsOnStandardError()
    {
        (string output, string error) = Run(ExitCode.Usage);
        Assert.Empty(output);
        Assert.StartsWith("MeshTrace tells", error, StringComparison.Ordinal);
    }

    [Fact]
    public void Stopped_EndsWithItsOwnCode()
    {
        using var stopped = new CancellationTokenSource();
        stopped.Cancel();
        string capture = Path.Combine(Architecture.Repository.Root, "captures-demo", "boathouse.pcapng");
        using var output = new MemoryStream();
        int code = new Application(new Surroundings { Output = output, Error = TextWriter.Null }).Run(["explain", capture], stopped.Token);
        Assert.Equal(ExitCode.Interrupted, code);
        Assert.Equal(0, output.Length);
    }

    [Fact]
    public void FullDisk_IsTold()
    {
        string capture = Path.Combine(Architecture.Repository.Root, "captures-demo", "boathouse.pcapng");
        using var error = new StringWriter();
        using var full = new FullDisk();
        Assert.Equal(ExitCode.Unwritable, new Application(new Surroundings { Output = full, Error = error }).Run(["records", capture], CancellationToken.None));
        Assert.Contains("the result cannot be written: no space", error.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Progress_IsOnlyForTerminalsThatCanEraseIt()
    {
        foreach ((bool terminal, string? term) in (ReadOnlySpan<(bool, string?)>)[(false, null), (true, "dumb")])
        {
            using var error = new StringWriter();
            using (var progress = new ProgressLine(new Surroundings { Output = Stream.Null, Error = error, ErrorIsTerminal = terminal, Environment = _ => term }))
                TellForASecond(progress);
            Assert.Empty(error.ToString());
        }
        using var seen = new StringWriter();
        using (var progress = new ProgressLine(new Surroundings { Output = Stream.Null, Error = seen, ErrorIsTerminal = true }))
            TellForASecond(progress);
        Assert.InRange(seen.ToString().Split("reading: 50 %").Length - 1, 1, 5);
        Assert.EndsWith("\r\e[K", seen.ToString(), StringComparison.Ordinal);
    }

    private static void TellForASecond(ProgressLine progress)
    {
        var clock = System.Diagnostics.Stopwatch.StartNew();
        while (clock.ElapsedMilliseconds < 1000)
        {
            progress.Tell("reading", 50, 100, "octets");
            Thread.Sleep(10);
        }
    }

    private static (string Output, string Error) Run(int code, params string[] arguments)
    {
        using var output = new MemoryStream();
        using var error = new StringWriter();
        Assert.Equal(code, new Application(new Surroundings { Output = output, Error = error }).Run(arguments, CancellationToken.None));
        return (Encoding.UTF8.GetString(output.ToArray()), error.ToString());
    }

    private sealed class FullDisk : MemoryStream
    {
        public override void Write(ReadOnlySpan<byte> buffer) => throw new IOException("no space");
    }
}
