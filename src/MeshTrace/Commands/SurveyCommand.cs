using System.CommandLine;
using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Udp;
using MeshTrace.Datasets;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace survey</c>: analyses the captures of a folder one after the other into a dataset, and has its sites compared.</summary>
internal sealed class SurveyCommand : Command
{
    /// <summary>What the comparison needs, whatever else is asked for.</summary>
    private static readonly RecordKind[] Compared = [RecordKind.Press, RecordKind.Node, RecordKind.Finding];

    private readonly Argument<string> _folder = new("FOLDER");
    private readonly Option<string?> _to = new("--to") { HelpName = "DATASET" };
    private readonly Option<string[]> _only = new("--only") { HelpName = "KIND,..." };
    private readonly Option<string[]> _onlyCapture = new("--only-capture") { HelpName = "NAME", AllowMultipleArgumentsPerToken = false };
    private readonly Option<string?> _shard = new("--shard") { HelpName = "K/N" };
    private readonly Option<bool> _redo = new("--redo");
    private readonly Option<bool> _list = new("--list");
    private readonly Surroundings _surroundings;
    private readonly CaptureOptions _keys;

    public SurveyCommand(Surroundings surroundings, CancellationToken stop) : base("survey", HelpText.SurveySummary)
    {
        _surroundings = surroundings;
        Add(_folder);
        Add(_to);
        Add(_only);
        Add(_onlyCapture);
        Add(_shard);
        Add(_redo);
        Add(_list);
        _keys = new CaptureOptions(this, surroundings, CaptureSubject.Folder);
        SetAction(result => Run(result, stop));
    }

    private int Run(ParseResult result, CancellationToken stop)
    {
        string folder = result.GetRequiredValue(_folder);
        string? to = result.GetValue(_to);
        string[] named = result.GetValue(_onlyCapture) ?? [];
        string? shard = result.GetValue(_shard);
        List<FoundCapture> captures = Shard(Only(Find(folder, to), named, folder), shard);
        if (result.GetValue(_list))
        {
            foreach (FoundCapture capture in captures)
                _surroundings.Output.Write(System.Text.Encoding.UTF8.GetBytes(SafeText.Strip(capture.Name, 4096) + "\n"));
            return ExitCode.Fine;
        }
        if (to is null)
            throw new UserErrorException(ExitCode.Usage, "--to is missing", "Name the folder of the dataset, which is made if it is missing; see 'meshtrace survey --help'.");

        List<RecordKind> kinds = Kinds(result.GetValue(_only) ?? []);
        AnalysisSettings common = _keys.Settings(result);
        UdpEncapsulation? udp = _keys.Udp(result);
        VendorCatalogue? vendor = _keys.VendorMessages(result);
        var dataset = new Dataset(to);
        dataset.Check();
        var tally = new Tally();
        foreach (FoundCapture capture in captures)
        {
            stop.ThrowIfCancellationRequested();
            string? network = capture.Description ?? _keys.Network(result);
            try
            {
                CaptureStamp stamp = Stamp(capture, network, kinds);
                if (!result.GetValue(_redo) && dataset.ResultOf(capture, stamp) is { } before)
                    tally.Add(before, doneBefore: true);
                else
                    tally.Add(Analyse(capture, stamp, dataset, capture.Description is { } own ? _keys.Settings(common, own) : common, new RecordsSettings { Only = kinds, ProgramVersion = ProgramVersion.Text, Vendor = vendor }, udp, stop), doneBefore: false);
            }
            catch (UserErrorException failed) when (failed.ExitCode != ExitCode.Unwritable)
            {
                tally.Failed++;
                _surroundings.Error.WriteLine($"meshtrace: {InputFile.Shown(capture.Name)} failed: {Application.HideKeys(failed.Message)}.");
                if (failed.Remedy.Length > 0)
                    _surroundings.Error.WriteLine($"What to do: {failed.Remedy} The survey goes on with the others.");
            }
        }
        _surroundings.Error.WriteLine(tally.Words());
        int code = tally.ExitCode;
        // One task of many has nothing to compare yet.
        if (named.Length > 0 || shard is not null || tally.Failed == captures.Count)
            return code;
        int compared = new ComparisonProgram(_surroundings).Run(to);
        return code != ExitCode.Fine ? code : compared;
    }

    private string Analyse(FoundCapture capture, CaptureStamp stamp, Dataset dataset, AnalysisSettings settings, RecordsSettings records, UdpEncapsulation? udp, CancellationToken stop)
    {
        var run = new AnalysisRun(_surroundings, stop, udp);
        CaptureHistory history = run.Read([capture.File], settings);
        run.TellDamages(history);
        string result = history.Damages.Count > 0 ? Dataset.Damaged : Dataset.Decoded;
        if (AnalysisRun.NothingDecoded(history) is { } why)
        {
            result = Dataset.NothingDecoded;
            _surroundings.Error.WriteLine($"meshtrace: {InputFile.Shown(capture.Name)}: {why}");
        }
        var tables = new TablesWriter(history, records, TableForm.Parquet);
        dataset.Write(capture, stamp, result, history, tables, stop);
        TableFolder.Warn(tables, _surroundings);
        return result;
    }

    private static List<FoundCapture> Find(string folder, string? dataset)
    {
        try
        {
            List<FoundCapture> captures = CaptureFinder.Find(folder, dataset);
            return captures.Count > 0 ? captures : throw new UserErrorException(ExitCode.Unreadable, $"there is no capture in {InputFile.Shown(folder)}",
                "Name the folder that holds pcap, pcapng or BTSnoop files, itself or in folders of its own.");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException)
        {
            throw InputFile.CannotRead(folder, "folder", problem);
        }
    }

    private static List<FoundCapture> Only(List<FoundCapture> captures, string[] names, string folder)
    {
        if (names.Length == 0)
            return captures;
        foreach (string name in names)
        {
            if (captures.TrueForAll(capture => capture.Name != name))
                throw new UserErrorException(ExitCode.Unreadable, $"there is no capture {InputFile.Shown(name)} in {InputFile.Shown(folder)}", "'meshtrace survey FOLDER --list' prints the names.");
        }
        return captures.FindAll(capture => names.Contains(capture.Name));
    }

    /// <summary>Every N-th capture, from the K-th on: the shards 1/N to N/N together are all of them.</summary>
    private static List<FoundCapture> Shard(List<FoundCapture> captures, string? shard)
    {
        if (shard is null)
            return captures;
        string[] parts = shard.Split('/');
        if (parts.Length != 2 || !int.TryParse(parts[0], NumberStyles.None, CultureInfo.InvariantCulture, out int k) || !int.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out int n) || k < 1 || k > n)
            throw new UserErrorException(ExitCode.Usage, $"--shard '{SafeText.Strip(shard)}' is not of the form K/N with K from 1 to N", "Give '--shard 1/10' to '--shard 10/10' to ten tasks.");
        return [.. captures.Where((_, i) => i % n == k - 1)];
    }

    private static List<RecordKind> Kinds(string[] asked)
    {
        List<RecordKind> kinds = RecordKindList.Read(asked);
        if (kinds.Contains(RecordKind.Key))
            throw new UserErrorException(ExitCode.Usage, "--only key: a dataset holds no keys", "Leave 'key' out.");
        return [.. RecordKinds.All.Where(kind => kind != RecordKind.Key && (kinds.Count == 0 || kinds.Contains(kind) || Compared.Contains(kind)))];
    }

    private static CaptureStamp Stamp(FoundCapture capture, string? network, List<RecordKind> kinds)
    {
        if (PartitionName.IsTooLong(capture.Name))
            throw new UserErrorException(ExitCode.Unreadable, "its name is too long for the name of a folder", "Shorten the names of the file and of the folders it lies in.");
        try
        {
            return CaptureStamp.Of(capture, network, kinds);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw InputFile.CannotRead(capture.File, "capture", problem);
        }
    }

    /// <summary>How many captures went which way.</summary>
    private sealed class Tally
    {
        private int _fine, _damaged, _nothing, _before;

        public int Failed { get; set; }

        public int ExitCode => Failed > 0 ? Commands.ExitCode.SomeFailed : _nothing > 0 ? Commands.ExitCode.NothingDecoded : _damaged > 0 ? Commands.ExitCode.Damaged : Commands.ExitCode.Fine;

        public void Add(string result, bool doneBefore)
        {
            _before += doneBefore ? 1 : 0;
            _damaged += result == Dataset.Damaged ? 1 : 0;
            _nothing += result == Dataset.NothingDecoded ? 1 : 0;
            _fine += result == Dataset.Decoded ? 1 : 0;
        }

        public string Words() => FormattableString.Invariant(
            $"meshtrace: captures: {_fine} decoded, {_damaged} decoded up to damage, {_nothing} without anything decoded, {Failed} failed; {_before} of them were done before.");
    }
}
