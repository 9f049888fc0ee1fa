using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests.Screens;

/// <summary>Screens over a file that is still being written, in a real terminal.</summary>
public sealed class BrowseLiveInATerminalTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [SkippableFact]
    public void AGrowingFile_IsShownAsItGrows_AndIsSaved()
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        byte[] capture = File.ReadAllBytes(Repository.Demo("boathouse.pcapng"));
        string growing = _folder.Write("growing.pcapng", capture.AsSpan(0, capture.Length / 4)), kept = _folder.File("kept.pcapng");
        using var terminal = new Tmux(100, 24, "NO_COLOR=", "browse", "--from", growing, "--network", Repository.Demo("boathouse.network.json"), "--keep", kept);
        terminal.WaitFor(" LIVE ");
        terminal.WaitFor("1 press:");
        using (var file = new FileStream(growing, FileMode.Append, FileAccess.Write, FileShare.ReadWrite))
            file.Write(capture.AsSpan(capture.Length / 4));
        terminal.WaitFor("LIVE 4,521 frames; 3 presses:");
        terminal.Press("x");
        terminal.WaitFor("Access Address");
        File.Delete(growing);
        terminal.WaitFor("was moved away: waiting for a file to come in its place");
        terminal.Press("q");
        terminal.WaitFor("4,521 frames saved");
        terminal.WaitFor("ended with 0");
        terminal.WaitFor("echo is on");
        Assert.Equal(3, Program.RunHere("records", kept, "--network", Repository.Demo("boathouse.network.json")).Ended(ExitCode.Fine).Records("press").Count);
    }

    [SkippableFact]
    public void WhatIsNoCapture_EndsTheScreens_AndIsSaid()
    {
        Skip.IfNot(Tmux.IsInstalled, "tmux is not installed");
        using var terminal = new Tmux(100, 24, "NO_COLOR=", "browse", "--from", _folder.Write("noise", new byte[] { 1, 2, 3, 4, 5, 6, 7, 8 }));
        terminal.WaitFor("is no capture that can be read");
        terminal.WaitFor($"ended with {ExitCode.Unreadable}");
        terminal.WaitFor("echo is on");
    }
}
