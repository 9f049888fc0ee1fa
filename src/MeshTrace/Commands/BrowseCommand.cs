using System.CommandLine;
using System.Runtime.InteropServices;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Udp;
using MeshTrace.Live;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;
using MeshTrace.Screens;
using MeshTrace.Screens.Reading;
using MeshTrace.Screens.Views;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace browse</c>: screens to look at a capture on a terminal.</summary>
internal sealed class BrowseCommand : Command
{
    private readonly CaptureOptions _capture;
    private readonly LiveOptions _live;

    public BrowseCommand(Surroundings surroundings, CancellationToken stop) : base("browse", HelpText.BrowseSummary)
    {
        _live = new LiveOptions(this);
        _capture = new CaptureOptions(this, surroundings, CaptureSubject.CapturesOrLive);
        SetAction(result => Run(result, surroundings, stop));
    }

    private int Run(ParseResult result, Surroundings surroundings, CancellationToken stop)
    {
        IReadOnlyList<string> captures = _capture.Captures(result);
        bool live = _live.IsAsked(result);
        if (live == captures.Count > 0)
        {
            throw new UserErrorException(ExitCode.Usage, live ? "captures are named, and something to receive from as well" : "no capture is named",
                "Name captures, or what to receive from with --from FILE or --interface NAME; see 'meshtrace browse --help'.");
        }
        RefuseWithoutTerminal(live ? _live.From(result) : captures, surroundings);
        AnalysisSettings settings = _capture.Settings(result);
        UdpEncapsulation? udp = _capture.Udp(result);
        VendorCatalogue? vendor = _capture.VendorMessages(result);
        using var hungUp = CancellationTokenSource.CreateLinkedTokenSource(stop);
        using PosixSignalRegistration? hangUp = OperatingSystem.IsWindows() ? null : PosixSignalRegistration.Create(PosixSignal.SIGHUP, context =>
        {
            context.Cancel = true;
            hungUp.Cancel();
        });
        using ScreenReading reading = live ? Receive(result, settings, udp, vendor) : new BackgroundReading(Open(captures, settings, udp), settings, vendor);
        bool colour = string.IsNullOrEmpty(surroundings.Environment("NO_COLOR"));
        bool stopped = new TerminalSession(new Workspace(vendor), reading, colour, udp).Run(Save, hungUp.Token);
        if (reading is LiveReading receiving)
            return Conclude(receiving, stopped, surroundings);
        if (reading.Fault is { } fault)
            throw new InvalidOperationException(fault.Message, fault);
        if (stopped)
            throw new OperationCanceledException(hungUp.Token);
        return reading.Finished is { } history ? new AnalysisRun(surroundings, stop).Conclude(history) : ExitCode.Fine;
    }

    private LiveReading Receive(ParseResult result, AnalysisSettings settings, UdpEncapsulation? udp, VendorCatalogue? vendor)
    {
        IReadOnlyList<LiveInput> inputs = _live.Inputs(result, udp);
        LiveLimits limits = _live.Limits(result);
        return new LiveReading(inputs, settings, align: udp is null, limits, _live.Keep(result, _capture.OtherFiles(result)), vendor);
    }

    /// <summary>Ends the run, and tells on standard error what the screens told in passing.</summary>
    private static int Conclude(LiveReading reading, bool stopped, Surroundings surroundings)
    {
        reading.Stop();
        reading.Wait();
        foreach (string notice in reading.Notices)
            surroundings.Error.WriteLine($"meshtrace: {notice}.");
        switch (reading.Fault)
        {
            case null:
                break;
            case UserErrorException refused:
                throw new UserErrorException(refused.ExitCode, refused.Message, refused.Remedy, refused);
            case CaptureLiveException refused:
                throw InterfaceWords.Refused(refused);
            default:
                throw new InvalidOperationException(reading.Fault.Message, reading.Fault);
        }
        KeptWords.Tell(reading.Kept, surroundings);
        if (stopped)
            throw new OperationCanceledException();
        return reading.Kept?.Problem is not null ? ExitCode.Unwritable : ExitCode.Fine;
    }

    private static void RefuseWithoutTerminal(IReadOnlyList<string> captures, Surroundings surroundings)
    {
        if (captures.Contains(CaptureFile.StandardInput))
        {
            throw new UserErrorException(ExitCode.Usage, "browse cannot read a capture from standard input, which brings the keys",
                "Save the capture to a file first, or use 'meshtrace explain -'.");
        }
        if (surroundings is { InputIsTerminal: true, OutputIsTerminal: true, TerminalIsCapable: true })
            return;
        throw new UserErrorException(ExitCode.Usage, "browse needs a terminal for its screens, and there is none here",
            "Run it in a terminal window, or use 'meshtrace explain', which writes plain text.");
    }

    private static IFrameSource Open(IReadOnlyList<string> captures, AnalysisSettings settings, UdpEncapsulation? udp)
    {
        try
        {
            return CaptureOpening.Open(captures, settings, udp);
        }
        catch (CaptureFormatException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, SafeText.Strip(problem.Message, 600), remedy: "", problem);
        }
    }

    /// <summary>Never over a file that is there.</summary>
    private static string Save(string file, string text)
    {
        try
        {
            using var stream = new FileStream(file, FileMode.CreateNew, FileAccess.Write);
            using var writer = new StreamWriter(stream);
            writer.WriteLine(text);
            return $"Written to {InputFile.Shown(file)}.";
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            return $"Not written: {SafeText.Strip(problem.Message, 200)}";
        }
    }
}
