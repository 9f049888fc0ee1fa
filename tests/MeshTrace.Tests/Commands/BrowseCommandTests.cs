using MeshTrace.Commands;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Commands;

public sealed class BrowseCommandTests
{
    [Theory]
    [InlineData(false, true, null)]
    [InlineData(true, false, null)]
    [InlineData(true, true, "dumb")]
    public void WithoutATerminal_ItIsSaidAtOnce(bool input, bool output, string? term)
    {
        (int code, string error) = Run(input, output, term, Demo.Capture("library"));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains("browse needs a terminal", error, StringComparison.Ordinal);
        Assert.Contains("meshtrace explain", error, StringComparison.Ordinal);
    }

    [Fact]
    public void StandardInput_BringsKeysAndNoCapture() => Assert.Contains("cannot read a capture from standard input", Run(true, true, null, "-").Error, StringComparison.Ordinal);

    [Fact]
    public void AMissingCapture_IsToldBeforeTheTerminalIsTaken()
    {
        (int code, string error) = Run(true, true, null, "not-there.pcapng");
        Assert.Equal(ExitCode.Unreadable, code);
        Assert.Contains("not-there.pcapng", error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("captures are named, and something to receive from as well", "evening.pcapng", "--from", "growing.pcapng")]
    [InlineData("no capture is named")]
    [InlineData("cannot read a capture from standard input", "--from", "-")]
    public void LiveAndCaptures_DoNotGoTogether_AndStandardInputBringsKeys(string says, params string[] typed)
    {
        (int code, string error) = Run(true, true, null, typed);
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
    }

    private static (int Code, string Error) Run(bool input, bool output, string? term, params string[] typed)
    {
        using var error = new StringWriter();
        var surroundings = new Surroundings
        {
            Output = Stream.Null, Error = error, InputIsTerminal = input, OutputIsTerminal = output, Environment = name => name == "TERM" ? term : null,
        };
        return (new Application(surroundings).Run(["browse", .. typed], CancellationToken.None), error.ToString());
    }
}
