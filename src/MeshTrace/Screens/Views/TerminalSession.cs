using System.Text;
using MeshTrace.Captures.Udp;
using MeshTrace.Screens.Octets;
using MeshTrace.Screens.Reading;
using Terminal.Gui.App;
using ExitCode = MeshTrace.Commands.ExitCode;

namespace MeshTrace.Screens.Views;

/// <summary>Runs the screens on the real terminal, which it gives back as it was, whatever ends them.</summary>
internal sealed class TerminalSession(Workspace workspace, ScreenReading reading, bool colour, UdpEncapsulation? udp = null)
{
    /// <summary>Looks for a key every 10 ms; with the 40 ms that are usual, a key would wait longer than drawing takes.</summary>
    private const ushort LooksASecond = 100;

    /// <summary>
    /// A terminal that was taken away altogether gives its reader nothing but ends of file, and the reader never stops: after a signal the screens get so
    /// long to end in order.
    /// </summary>
    private static readonly TimeSpan LongestEnding = TimeSpan.FromSeconds(3);

    /// <param name="save">Writes a record to a file and returns what to tell.</param>
    /// <param name="stop">Ends the screens, as signals do.</param>
    /// <returns>True if Ctrl-C or a signal ended it, false if the user left.</returns>
    public bool Run(Func<string, string, string> save, CancellationToken stop)
    {
        using var lastResort = new Timer(_ => Environment.Exit(ExitCode.Interrupted));
        using IApplication application = Application.Create();
        application.Init();
        Application.MaximumIterationsPerSecond = LooksASecond;
        if (application.Driver is { } driver)
            driver.Force16Colors = true;        // the terminal's own colours, which its owner can read
        // The cursor is hidden from the start; told so at every look for a key, a terminal far away would get a kilobyte a second for nothing.
        application.Iteration += (_, _) => application.Driver?.SetCursorNeedsUpdate(false);
        BrowseView? shown = null;
        using var frames = new FrameStore(work => Task.Run(work), work => application.Invoke(() =>
        {
            work();
            shown?.SetNeedsDraw();
        })) { Udp = udp, FromMemory = reading.FromMemory };
        var browser = new Browser(workspace, frames, new Outlets(text => Clip(application, text), save));
        using var view = new BrowseView(browser, new Palette(colour));
        shown = view;
        reading.Start(change => application.Invoke(() =>
        {
            change(workspace);
            view.SetNeedsDraw();
            if (reading.Fault is not null)
                application.RequestStop();
        }));
        using CancellationTokenRegistration stopped = stop.Register(() =>
        {
            lastResort.Change(LongestEnding, System.Threading.Timeout.InfiniteTimeSpan);
            application.Invoke(() => application.RequestStop());
        });
        application.Run(view);
        reading.Stop();
        return view.IsInterrupted || stop.IsCancellationRequested;
    }

    /// <summary>OSC 52 (xterm control sequences, "Manipulate Selection Data"): the terminal puts the text on the clipboard, also over a remote connection.</summary>
    private static void Clip(IApplication application, string text) =>
        application.Driver?.WriteRaw($"\e]52;c;{Convert.ToBase64String(Encoding.UTF8.GetBytes(text))}\a");
}
