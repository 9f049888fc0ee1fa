using System.CommandLine;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Records;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace records</c>: the machine-readable account, one JSON object a line.</summary>
internal sealed class RecordsCommand : Command
{
    private const int BufferOctets = 1 << 16;

    private readonly Option<string> _as = new("--as") { DefaultValueFactory = _ => "jsonl", HelpName = "FORM" };
    private readonly Option<string?> _to = new("--to") { HelpName = "FILE" };
    private readonly Option<string[]> _only = new("--only") { HelpName = "KIND,..." };
    private readonly Option<bool> _reveal = new("--reveal-keys");
    private readonly Surroundings _surroundings;
    private readonly CaptureOptions _capture;

    public RecordsCommand(Surroundings surroundings, CancellationToken stop) : base("records", HelpText.RecordsSummary)
    {
        _surroundings = surroundings;
        _capture = new CaptureOptions(this, surroundings);
        _as.AcceptOnlyFromAmong("jsonl");
        Add(_as);
        Add(_to);
        Add(_only);
        Add(_reveal);
        SetAction(result => Run(result, stop));
    }

    private int Run(ParseResult result, CancellationToken stop)
    {
        List<RecordKind> only = Kinds(result.GetValue(_only) ?? []);
        bool reveal = result.GetValue(_reveal);
        IReadOnlyList<string> captures = _capture.Captures(result);
        string? to = result.GetValue(_to);
        if (to is not null)
            RefuseInput(to, captures);
        if (reveal)
            _surroundings.Error.WriteLine("meshtrace: warning: the records will hold the network's keys in clear. Whoever has them can read and command this network.");

        AnalysisSettings analysis = _capture.Settings(result);
        VendorCatalogue? vendor = _capture.VendorMessages(result);
        var settings = new RecordsSettings { Only = only, RevealKeys = reveal, ProgramVersion = ProgramVersion.Text, Vendor = vendor };
        var run = new AnalysisRun(_surroundings, stop);
        CaptureHistory history = run.Read(captures, analysis);
        if (to is null)
            Write(history, settings, _surroundings.Output, stop);
        else
            WriteFile(history, settings, to, stop);
        return run.Conclude(history);
    }

    private void Write(CaptureHistory history, RecordsSettings settings, Stream output, CancellationToken stop)
    {
        var writer = new RecordsWriter(history, settings);
        // Progress between records that go to the same terminal would spoil them.
        using ProgressLine? progress = ReferenceEquals(output, _surroundings.Output) && _surroundings.OutputIsTerminal ? null : new ProgressLine(_surroundings);
        long total = writer.Total;
        writer.Write(output, written => progress?.Tell("writing", written, total, "records"), stop);
    }

    private void WriteFile(CaptureHistory history, RecordsSettings settings, string to, CancellationToken stop)
    {
        try
        {
            using var file = new FileStream(to, FileMode.Create, FileAccess.Write, FileShare.Read, BufferOctets);
            Write(history, settings, file, stop);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new UserErrorException(ExitCode.Unwritable, $"{InputFile.Shown(to)} cannot be written: {SafeText.Strip(problem.Message.TrimEnd('.'), 200)}",
                "Check the folder, its permissions and the space on the disk.", problem);
        }
    }

    private static List<RecordKind> Kinds(string[] asked)
    {
        var kinds = new List<RecordKind>();
        foreach (string name in asked.SelectMany(list => list.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries)))
        {
            if (!RecordKinds.TryParse(name, out RecordKind kind))
            {
                throw new UserErrorException(ExitCode.Usage, $"--only: there is no record kind '{SafeText.Strip(name)}'",
                    $"The kinds are {string.Join(", ", RecordKinds.All.Select(RecordKinds.NameOf))}.");
            }
            kinds.Add(kind);
        }
        return kinds;
    }

    /// <summary>Writing over a capture would destroy it.</summary>
    private static void RefuseInput(string to, IReadOnlyList<string> captures)
    {
        string target = Real(to);
        if (captures.Any(capture => capture != "-" && Real(capture) == target))
        {
            throw new UserErrorException(ExitCode.Usage, $"--to names {InputFile.Shown(to)}, which is one of the captures",
                "Choose another file: the capture would be lost.");
        }
    }

    private static string Real(string path)
    {
        try
        {
            return Path.GetFullPath(File.ResolveLinkTarget(path, returnFinalTarget: true)?.FullName ?? path);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException)
        {
            return path;    // it will be refused with a better message when it is opened
        }
    }
}
