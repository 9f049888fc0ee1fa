using System.Runtime.InteropServices;
using System.Text;
using MeshTrace.Captures.Udp;
using MeshTrace.Screens.Octets;
using MeshTrace.Screens.Reading;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;
using ExitCode = MeshTrace.Commands.ExitCode;
using Timeout = System.Threading.Timeout;

namespace MeshTrace.Screens.Views;

/// <summary>
/// Runs the screens on the real terminal, which it gives back as it was, whatever ends them. Of the library it takes what knows terminals (raw mode, the
/// keys in what comes, the cells and how to send them) and goes round by itself: the library's own round sleeps 10 ms and more between two looks.
/// </summary>
internal sealed class TerminalSession(Workspace workspace, ScreenReading reading, bool colour, UdpEncapsulation? udp = null)
{
    /// <summary>
    /// A terminal that was taken away altogether may keep its writer waiting: after a signal the screens get so long to end in order.
    /// </summary>
    private static readonly TimeSpan LongestEnding = TimeSpan.FromSeconds(3);

    /// <summary>So often the size is looked at where no signal tells that it has changed.</summary>
    private static readonly TimeSpan BetweenSizes = OperatingSystem.IsWindows() ? TimeSpan.FromMilliseconds(100) : Timeout.InfiniteTimeSpan;

    private readonly Doorbell _bell = new();
    private bool _over;

    /// <param name="save">Writes a record to a file and returns what to tell.</param>
    /// <param name="stop">Ends the screens, as signals do.</param>
    /// <returns>True if Ctrl-C or a signal ended it, false if the user left.</returns>
    public bool Run(Func<string, string, string> save, CancellationToken stop)
    {
        using var lastResort = new Timer(_ => Environment.Exit(ExitCode.Interrupted));
        BrowseView? shown = null;
        using var frames = new FrameStore(work => Task.Run(work), work => _bell.Post(() =>
        {
            work();
            shown?.SetNeedsDraw();
        })) { Udp = udp, FromMemory = reading.FromMemory };
        // The output goes first in the end: what the mouse sends until then is not for the shell.
        using var input = new WaitingInput(_bell.Ring);
        using var output = new FrameOutput();
        var browser = new Browser(workspace, frames, new Outlets(text => Clip(output, text), save));
        var view = shown = new BrowseView(browser, new Palette(colour));
        reading.Start(change => _bell.Post(() =>
        {
            change(workspace);
            view.SetNeedsDraw();
            _over |= reading.Fault is not null;
        }));
        using CancellationTokenRegistration stopped = stop.Register(() =>
        {
            lastResort.Change(LongestEnding, Timeout.InfiniteTimeSpan);
            _bell.Post(() => _over = true);
        });
        bool gone = GoRound(view, input, output);
        reading.Stop();
        return gone || view.IsInterrupted || stop.IsCancellationRequested;
    }

    /// <summary>Waits, takes what came, draws; until the end.</summary>
    /// <returns>True if the terminal was taken away.</returns>
    private bool GoRound(BrowseView view, WaitingInput input, FrameOutput output)
    {
        // The factory teaches the output to ask the system for the terminal's size.
        new AnsiComponentFactory(output: output).CreateOutput();
        var buffer = new OutputBufferImpl();
        using var keys = new KeyDecoder(TimeProvider.System, key => Take(key, view, buffer, output), view.Take, view.Paste);
        using var ending = new CancellationTokenSource();
        input.Initialize(keys.Letters);
        new Thread(() => input.Run(ending.Token)) { IsBackground = true, Name = "input" }.Start();
        using PosixSignalRegistration? resized = OperatingSystem.IsWindows() ? null : PosixSignalRegistration.Create(PosixSignal.SIGWINCH, _ => _bell.Ring());
        try
        {
            while (true)
            {
                TimeSpan wait = keys.Decode();
                _bell.DoWork();
                if (_over || view.IsOver || input.HasEnded)
                    return input.HasEnded;
                if (output.GetSize() is var size && (size.Width != buffer.Cols || size.Height != buffer.Rows))
                {
                    buffer.SetSize(size.Width, size.Height);
                    view.SetNeedsDraw();
                }
                if (view.NeedsDraw)
                {
                    view.Draw(buffer);
                    output.Write(buffer);
                }
                _bell.Wait(wait == Timeout.InfiniteTimeSpan ? BetweenSizes : wait);
            }
        }
        finally
        {
            input.Stop();
            ending.Cancel();
        }
    }

    private static void Take(Key key, BrowseView view, OutputBufferImpl buffer, FrameOutput output)
    {
        if (key == Key.Z.WithCtrl)
        {
            output.Suspend();       // comes back when the shell lets it go on
            output.SetCursor(new Cursor());
            Redraw();
        }
        else if (key == Key.L.WithCtrl)
            Redraw();               // something else wrote on the terminal
        else
            view.Take(key);

        void Redraw()
        {
            buffer.ClearContents();
            view.SetNeedsDraw();
        }
    }

    /// <summary>OSC 52 (xterm control sequences, "Manipulate Selection Data"): the terminal puts the text on the clipboard, also over a remote connection.</summary>
    private static void Clip(FrameOutput output, string text) => output.Write($"\e]52;c;{Convert.ToBase64String(Encoding.UTF8.GetBytes(text))}\a");
}
