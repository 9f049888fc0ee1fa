using System.CommandLine;
using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Excerpts;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace excerpt</c>: the frames of one press, time or node, and what explains them, as a capture of its own.</summary>
internal sealed class ExcerptCommand : Command
{
    private const int MostNamesTold = 8;

    private readonly Option<int?> _press = new("--press") { HelpName = "N" };
    private readonly Option<string?> _from = new("--from") { HelpName = "TIME" };
    private readonly Option<string?> _until = new("--until") { HelpName = "TIME" };
    private readonly Option<string?> _node = new("--node") { HelpName = "NODE" };
    private readonly Option<string> _to = new("--to") { Required = true, HelpName = "FILE" };
    private readonly Option<bool> _overwrite = new("--overwrite");
    private readonly Surroundings _surroundings;
    private readonly CaptureOptions _capture;
    private readonly RedactionOptions _redaction;

    public ExcerptCommand(Surroundings surroundings, CancellationToken stop) : base("excerpt", HelpText.ExcerptSummary)
    {
        _surroundings = surroundings;
        _capture = new CaptureOptions(this, surroundings);
        Add(_press);
        Add(_from);
        Add(_until);
        Add(_node);
        Add(_to);
        Add(_overwrite);
        _redaction = new RedactionOptions(this);
        SetAction(result => Run(result, stop));
    }

    private int Run(ParseResult result, CancellationToken stop)
    {
        IReadOnlyList<string> captures = _capture.Captures(result);
        if (captures.Contains(CaptureFile.StandardInput))
            throw new UserErrorException(ExitCode.Usage, "an excerpt reads the capture twice, which standard input does not allow", "Name a file.");
        if (new[] { result.GetValue(_press) is not null, result.GetValue(_from) is not null || result.GetValue(_until) is not null, result.GetValue(_node) is not null }.Count(given => given) != 1)
            throw new UserErrorException(ExitCode.Usage, "an excerpt is of one press, one time or one node", "Give one of --press N, --from TIME with --until TIME, and --node NODE.");
        NoteTime? from = Moment(result.GetValue(_from)), until = Moment(result.GetValue(_until));
        string to = result.GetRequiredValue(_to);
        bool overwrite = result.GetValue(_overwrite), redacts = _redaction.IsAsked(result, captures);
        string description = Path.ChangeExtension(to, ".network.json");
        OutputFile.Check(to, captures, _capture.OtherFiles(result), overwrite, "excerpt.pcapng");
        if (redacts)
            OutputFile.Check(description, captures, _capture.OtherFiles(result), overwrite, "excerpt.network.json");
        AnalysisSettings settings = _capture.Settings(result);
        var run = new AnalysisRun(_surroundings, stop, _capture.Udp(result));
        CaptureHistory history = run.Read(captures, settings);
        if (history.Receivers.Count > 0 && !history.Receivers.Any(ExcerptWriter.CanWrite))
            throw new UserErrorException(ExitCode.Usage, "a text log cannot be written as a capture", "Copy its lines.");
        ExcerptRequest request = Request(history, result, from, until);
        CaptureRedaction? redaction = redacts ? _redaction.Of(result, history, settings) : null;
        var making = new ExcerptMaking(history, captures, settings, _capture.Udp(result), redaction, stop);
        TableFolder.WriteFile(to, overwrite, output => making.Write(request, (FileStream)output));
        if (redaction is not null)
        {
            TableFolder.WriteFile(description, overwrite, output => output.Write(redaction.Description.Span));
            RedactionWords.Tell(redaction, settings with { Notes = [] }, _surroundings.Error);
        }
        Tell(making, to, redacts ? description : null);
        return run.Conclude(history);
    }

    private ExcerptRequest Request(CaptureHistory history, ParseResult result, NoteTime? from, NoteTime? until)
    {
        if (result.GetValue(_press) is { } press)
        {
            if (press < 1 || press > history.Presses.Count)
            {
                string there = history.Presses.Count == 0 ? "the capture tells of no press" : string.Create(CultureInfo.InvariantCulture, $"the capture tells of presses 1 to {history.Presses.Count}");
                throw new UserErrorException(ExitCode.Usage, string.Create(CultureInfo.InvariantCulture, $"there is no press {press}: {there}"),
                    "Presses are numbered as in 'meshtrace records --only press'.");
            }
            return new ExcerptRequest { Press = press - 1 };
        }
        if (result.GetValue(_node) is { } name)
            return new ExcerptRequest { Node = Node(history, name) };
        if (history.TimeSpanNs is not { } span)
            throw new UserErrorException(ExitCode.Usage, "the capture has no times", "Choose --press N or --node NODE.");
        long? fromNs = from is { } begin ? history.TimeOf(begin) : null, untilNs = until is { } end ? history.TimeOf(end) + EndOf(end) : null;
        if ((fromNs ?? span.First) > (untilNs ?? span.Last) || (fromNs ?? span.First) > span.Last || (untilNs ?? span.Last) < span.First)
        {
            throw new UserErrorException(ExitCode.Usage, $"no frame lies in this time: the capture goes from {Shown(span.First)} to {Shown(span.Last)}",
                "Times are in the capture's clock, UTC, such as 18:05:30 or 2026-03-02T18:05:30Z; --from comes before --until.");
        }
        return new ExcerptRequest { FromNs = fromNs, UntilNs = untilNs };
    }

    /// <summary>A time without seconds means the whole minute, one without decimals the whole second.</summary>
    private static long EndOf(NoteTime time) => Math.Max(time.PrecisionNs - 1, 0);

    private static MeshAddress Node(CaptureHistory history, string name)
    {
        if (history.NodeNamed(name) is { } node && history.Nodes.Any(record => record.Unicast == node))
            return node;
        string[] names = [.. history.Nodes.Take(MostNamesTold).Select(record => record.Name is { } called ? $"{called} ({record.Unicast})" : record.Unicast.ToString())];
        string there = names.Length == 0 ? "the capture tells of no node" : $"it tells of {string.Join(", ", names)}{(history.Nodes.Count > names.Length ? " and others" : "")}";
        throw new UserErrorException(ExitCode.Usage, $"the capture and its description know no node {InputFile.Shown(name)}; {there}", "Give a node's name, or its address such as 0x0003.");
    }

    private static NoteTime? Moment(string? text) => text is null ? null : FieldNotesReader.TryReadTime(text.Trim(), out NoteTime time) ? time
        : throw new UserErrorException(ExitCode.Usage, $"{InputFile.Shown(text)} is no time", "Write it as 18:05, 18:05:30, 18:05:30.25 or 2026-03-02T18:05:30Z.");

    private static string Shown(long timeNs) => DateTimeOffset.UnixEpoch.AddTicks(timeNs / 100).ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture);

    private void Tell(ExcerptMaking making, string to, string? description)
    {
        using var words = new StreamWriter(_surroundings.Output, leaveOpen: true) { NewLine = "\n" };
        words.WriteLine(ExcerptWords.Summary(making, InputFile.Shown(to)));
        if (description is not null)
            words.WriteLine($"No key, name or address in it is real; {InputFile.Shown(description)} opens it.");
        if (making.Unwritable > 0)
            _surroundings.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"meshtrace: {making.Unwritable} frames are left out: pcapng has no form for lines of a text log, nor for frames without a time of a second receiver."));
        if (making.Differing.Count > 0)
        {
            string presses = string.Join(", ", making.Differing.Take(MostNamesTold).Select(row => (row + 1).ToString(CultureInfo.InvariantCulture)));
            _surroundings.Error.WriteLine($"meshtrace: warning: the excerpt alone tells otherwise of press {presses}{(making.Differing.Count > MostNamesTold ? " and others" : "")} than the whole capture.");
        }
    }
}
