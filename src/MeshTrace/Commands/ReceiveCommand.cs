using System.CommandLine;
using System.Globalization;
using System.Runtime.InteropServices;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Udp;
using MeshTrace.Live;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Records;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace receive</c>: a running account of what is being recorded now.</summary>
internal sealed class ReceiveCommand : Command
{
    private const int BufferOctets = 1 << 16;
    private const double LongestQuietSeconds = 86_400;

    private readonly Option<string?> _records = new("--records") { HelpName = "FILE" };
    private readonly Option<double?> _untilQuiet = new("--until-quiet") { HelpName = "SECONDS" };
    private readonly Option<bool> _list = new("--list-interfaces");
    private readonly ColourOption _colour;
    private readonly LiveOptions _live;
    private readonly CaptureOptions _capture;
    private readonly Surroundings _surroundings;

    public ReceiveCommand(Surroundings surroundings, CancellationToken stop) : base("receive", HelpText.ReceiveSummary)
    {
        _surroundings = surroundings;
        _live = new LiveOptions(this);
        Add(_list);
        Add(_records);
        Add(_untilQuiet);
        _colour = new ColourOption(this);
        _capture = new CaptureOptions(this, surroundings, CaptureSubject.Live);
        SetAction(result => Run(result, stop));
    }

    private int Run(ParseResult result, CancellationToken stop)
    {
        UdpEncapsulation? udp = _capture.Udp(result);
        if (result.GetValue(_list))
            return InterfaceWords.List(_surroundings);
        IReadOnlyList<LiveInput> inputs = _live.Inputs(result, udp);
        LiveLimits limits = _live.Limits(result);
        TimeSpan? quiet = UntilQuiet(result);
        string? records = result.GetValue(_records);
        IReadOnlyList<string> others = _capture.OtherFiles(result);
        if (records is not null)
            OutputFile.Check(records, _live.From(result), others, _live.Overwrites(result), "evening.jsonl", "--records");
        AnalysisSettings settings = _capture.Settings(result);
        VendorCatalogue? vendor = _capture.VendorMessages(result);
        using KeptCapture? kept = _live.Keep(result, others);

        var window = new LiveWindow(settings, inputs.Select(input => input.Name), align: udp is null, limits);
        using var account = new RunningAccount(_surroundings, _colour.Wants(result, _surroundings), vendor);
        var run = new LiveRun(inputs, window, kept, account, new FrameQueue(), quiet);
        CaptureHistory history;
        try
        {
            using var hungUp = CancellationTokenSource.CreateLinkedTokenSource(stop);
            using PosixSignalRegistration? hangUp = OperatingSystem.IsWindows() ? null : PosixSignalRegistration.Create(PosixSignal.SIGHUP, context =>
            {
                context.Cancel = true;
                hungUp.Cancel();
            });
            history = run.Run(hungUp.Token, () => Introduce(inputs, limits, kept));
        }
        catch (CaptureLiveException problem)
        {
            throw InterfaceWords.Refused(problem);
        }
        if (run.IsRefused)
            throw new UserErrorException(ExitCode.Unreadable, run.Refused[0], remedy: "");
        return Conclude(run, window, history, inputs, kept, records, new RecordsSettings { ProgramVersion = ProgramVersion.Text, Vendor = vendor });
    }

    private int Conclude(LiveRun run, LiveWindow window, CaptureHistory history, IReadOnlyList<LiveInput> inputs, KeptCapture? kept, string? records, RecordsSettings settings)
    {
        foreach (UdpSource source in inputs.SelectMany(input => input.UdpSources))
            UdpWords.Tell(source, _surroundings.Error);
        var words = new AnalysisRun(_surroundings, CancellationToken.None);
        words.TellUnknown(window.UnknownReceivers);
        KeptWords.Tell(kept, _surroundings);
        if (records is not null)
            WriteRecords(history, settings, records);
        int code = run.Frames == 0 ? NothingCame() : words.Conclude(history);
        return run.Refused.Count > 0 ? ExitCode.Unreadable : kept?.Problem is not null ? ExitCode.Unwritable : code;
    }

    private int NothingCame()
    {
        _surroundings.Error.WriteLine("meshtrace: not one frame came.");
        _surroundings.Error.WriteLine("What to do: check that the receiver is running and writes to where this program reads.");
        return ExitCode.NothingDecoded;
    }

    private void Introduce(IReadOnlyList<LiveInput> inputs, LiveLimits limits, KeptCapture? kept)
    {
        string from = string.Join(", ", inputs.Select(input => input.Name == "-" ? "standard input" : InputFile.Shown(input.Name)));
        string minutes = ((double)limits.LengthNs / LiveLimits.NsPerMinute).ToString("0.##", CultureInfo.InvariantCulture);
        string saved = kept is null ? "nothing is saved (--keep FILE does that)" : $"everything is saved in {InputFile.Shown(kept.Name)}";
        _surroundings.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"meshtrace: receiving from {from}. The history goes back {minutes} min, or {limits.MostFrames:N0} frames; {saved}. Ctrl-C ends it."));
    }

    private static void WriteRecords(CaptureHistory history, RecordsSettings settings, string to)
    {
        try
        {
            using var file = new FileStream(to, FileMode.Create, FileAccess.Write, FileShare.Read, BufferOctets);
            new RecordsWriter(history, settings).Write(file);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw InputFile.CannotWrite(to, problem);
        }
    }

    private TimeSpan? UntilQuiet(ParseResult result)
    {
        if (result.GetValue(_untilQuiet) is not { } seconds)
            return null;
        return seconds is > 0 and <= LongestQuietSeconds ? TimeSpan.FromSeconds(seconds)
            : throw new UserErrorException(ExitCode.Usage, "--until-quiet is no time to wait", "Give seconds, more than 0 and at most a day.");
    }
}
