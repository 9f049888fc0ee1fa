using System.Diagnostics;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests.Screens;

/// <summary>The built program in a real terminal, by keys alone.</summary>
public sealed class BrowseInATerminalTests
{
    private static string[] Library => ["browse", Repository.Demo("library.pcapng"), "--network", Repository.Demo("library.network.json")];

    [SkippableTheory, InlineData(80, 24), InlineData(140, 40)]
    public void FromTheStart_ToTheCauseOfALostPress(int columns, int lines)
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(columns, lines, "NO_COLOR=", Library);
        terminal.WaitFor("Everything is shown");
        terminal.Press("n");
        terminal.Press("Enter");
        string cause = terminal.WaitFor("How did this press spread, and where did it end?");
        Assert.Contains("[3 Hops]", cause, StringComparison.Ordinal);
        Assert.Contains("END  Its TTL was used up after 1 hop", cause, StringComparison.Ordinal);
        Assert.Contains("stairs lamp 1 (0x0010)", cause, StringComparison.Ordinal);
        Assert.All(cause.Split('\n'), line => Assert.True(line.Length <= columns, line));
        terminal.Press("2");
        terminal.WaitFor("Who did what when?");
        terminal.Press("7");
        terminal.WaitFor("What stands in this frame?");
        terminal.Press("q");
        terminal.WaitFor("ended with 0");
        terminal.WaitFor("echo is on");
    }

    [SkippableTheory, InlineData("TERM"), InlineData("HUP"), InlineData("INT")]
    public void Signals_GiveTheTerminalBack(string signal)
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(80, 24, "NO_COLOR=", Library);
        terminal.WaitFor("Everything is shown");
        terminal.Signal(signal);
        terminal.WaitFor("ended with 130");
        terminal.WaitFor("echo is on");
    }

    [SkippableFact]
    public void ATerminalThatIsTakenAway_LeavesNoProgramBehind()
    {
        const int longestMs = 30_000;
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(80, 24, "NO_COLOR=", Library);
        terminal.WaitFor("Everything is shown");
        using Process program = Process.GetProcessById(terminal.ProgramId());
        terminal.Dispose();
        Assert.True(program.WaitForExit(longestMs), "the program goes on without its terminal");
    }

    [SkippableFact]
    public void CtrlC_Leaves()
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(80, 24, "NO_COLOR=", Library);
        terminal.WaitFor("Everything is shown");
        terminal.Press("C-c");
        terminal.WaitFor("ended with 130");
    }

    [SkippableFact]
    public void CtrlZ_GivesTheTerminalBack_UntilTheShellGoesOn()
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(80, 24, "NO_COLOR=", Library);
        terminal.WaitFor("Everything is shown");
        terminal.Press("n", "C-z");
        terminal.WaitFor("suspended");
        terminal.WaitFor("echo is on");
        terminal.Press("Enter");
        Assert.Contains("> 17:45:34", terminal.WaitFor("Everything is shown"), StringComparison.Ordinal);
        terminal.Press("Enter");        // keys come as they are again, without waiting for the end of a line
        terminal.Press("q");
        terminal.WaitFor("ended with 0");
        terminal.WaitFor("echo is on");
    }

    [SkippableFact]
    public void AnotherSize_IsDrawnAnew()
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(80, 24, "NO_COLOR=", Library);
        terminal.WaitFor("Everything is shown");
        terminal.Resize(60, 15);
        terminal.WaitFor("MeshTrace needs 80 x 24.");
        terminal.Resize(140, 40);
        string[] lines = terminal.WaitFor("Which presses were lost, and why?").Split('\n');
        Assert.Equal(140, lines.Single(line => line.Contains("Which presses were lost, and why?", StringComparison.Ordinal)).Length);
        Assert.Contains("? help", lines[39], StringComparison.Ordinal);
    }

    [SkippableFact]
    public void NoColor_IsHonoured()
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var coloured = new Tmux(80, 24, "NO_COLOR=", Library);
        using var plain = new Tmux(80, 24, "NO_COLOR=1", Library);
        coloured.WaitFor("Everything is shown");
        plain.WaitFor("Everything is shown");
        Assert.Matches(@"\e\[[0-9;]*3[1-7]m", coloured.TextWithColours());
        Assert.DoesNotMatch(@"\e\[([0-9;]*;)?(3[0-8]|9[0-7]|4[0-8])[;m]", plain.TextWithColours());
        Assert.Contains("NONE", plain.Text(), StringComparison.Ordinal);
    }

    [SkippableFact]
    public void ASmallTerminal_IsToldWhatIsNeeded()
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(60, 15, "NO_COLOR=", Library);
        terminal.WaitFor("MeshTrace needs 80 x 24.");
        terminal.Press("q");
        terminal.WaitFor("ended with 0");
    }
}
