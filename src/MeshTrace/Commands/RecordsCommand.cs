using System.CommandLine;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace records</c>: the machine-readable account, one JSON object a line, or one table a kind.</summary>
internal sealed class RecordsCommand : Command
{
    private const int BufferOctets = 1 << 16;
    private const string Lines = "jsonl", Csv = "csv", Parquet = "parquet";

    private readonly Option<string> _as = new("--as") { DefaultValueFactory = _ => Lines, HelpName = "FORM" };
    private readonly Option<string?> _to = new("--to") { HelpName = "PLACE" };
    private readonly Option<bool> _overwrite = new("--overwrite");
    private readonly Option<string[]> _only = new("--only") { HelpName = "KIND,..." };
    private readonly Option<bool> _reveal = new("--reveal-keys");
    private readonly Surroundings _surroundings;
    private readonly CaptureOptions _capture;
    private readonly RedactionOptions _redaction;

    public RecordsCommand(Surroundings surroundings, CancellationToken stop) : base("records", HelpText.RecordsSummary)
    {
        _surroundings = surroundings;
        _capture = new CaptureOptions(this, surroundings);
        _as.AcceptOnlyFromAmong(Lines, Csv, Parquet);
        Add(_as);
        Add(_to);
        Add(_overwrite);
        Add(_only);
        Add(_reveal);
        _redaction = new RedactionOptions(this);
        SetAction(result => Run(result, stop));
    }

    private int Run(ParseResult result, CancellationToken stop)
    {
        List<RecordKind> only = RecordKindList.Read(result.GetValue(_only) ?? []);
        bool reveal = result.GetValue(_reveal);
        IReadOnlyList<string> captures = _capture.Captures(result);
        bool redacts = _redaction.IsAsked(result, captures);
        if (redacts && reveal)
            throw new UserErrorException(ExitCode.Usage, "--redact hides the keys that --reveal-keys shows", "Give one of the two.");
        string? to = result.GetValue(_to);
        TableForm? form = result.GetValue(_as) switch { Csv => TableForm.Csv, Parquet => TableForm.Parquet, _ => null };
        TableFolder? folder = null;
        if (form is { } tables && to is not null)
        {
            folder = new TableFolder(to, tables, result.GetValue(_overwrite), _surroundings);
            folder.Check(only.Count > 0 ? only : RecordKinds.All, captures);
        }
        else if (form is { } single && (single == TableForm.Parquet || only.Count != 1))
        {
            throw new UserErrorException(ExitCode.Usage, $"--as {result.GetValue(_as)} writes one file a record kind",
                single == TableForm.Csv ? "Name a folder with --to, or one kind with --only." : "Name a folder with --to.");
        }
        else if (to is not null)
            InputFile.RefuseOverwriting(to, captures);
        if (reveal)
            _surroundings.Error.WriteLine("meshtrace: warning: the records will hold the network's keys in clear. Whoever has them can read and command this network.");

        AnalysisSettings analysis = _capture.Settings(result);
        VendorCatalogue? vendor = _capture.VendorMessages(result);
        var settings = new RecordsSettings { Only = only, RevealKeys = reveal, ProgramVersion = ProgramVersion.Text, Vendor = redacts ? null : vendor };     // names of vendor messages are the vendor's
        var run = new AnalysisRun(_surroundings, stop, _capture.Udp(result));
        CaptureHistory history = run.Read(captures, analysis), shown = redacts ? run.ReadRedacted(captures, analysis, _redaction.Of(result, history, analysis)) : history;
        if (folder is not null)
            folder.Write(shown, settings, stop);
        else if (form is { } csv)
            TableFolder.Warn(WriteTable(new TablesWriter(shown, settings, csv), only[0], stop), _surroundings);
        else if (to is null)
            Write(shown, settings, _surroundings.Output, stop);
        else
            WriteFile(shown, settings, to, stop);
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
            throw InputFile.CannotWrite(to, problem);
        }
    }

    private TablesWriter WriteTable(TablesWriter tables, RecordKind kind, CancellationToken stop)
    {
        if (tables.Kinds.Contains(kind))        // 'key' is none unless keys are to be revealed
            tables.Write(kind, _surroundings.Output, stop: stop);
        return tables;
    }
}
