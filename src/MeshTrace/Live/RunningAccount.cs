using System.Globalization;
using System.Text;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Live;
using MeshTrace.Analysis.Presses;
using MeshTrace.Commands;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Words;

namespace MeshTrace.Live;

/// <summary>
/// The running account: a line for each press once its outcome is settled, findings when they are raised, and on a terminal one line that tells how the run stands.
/// </summary>
internal sealed class RunningAccount : ILiveListener, IDisposable
{
    private const string Indent = "          ";

    private readonly Surroundings _surroundings;
    private readonly VendorCatalogue? _vendor;
    private readonly LiveTelling _telling = new();
    private readonly StatusLine _status;
    private readonly StreamWriter _words;
    private readonly Paper _paper;
    private Account? _account;
    private string? _day;
    private double? _heard;

    public RunningAccount(Surroundings surroundings, bool colour, VendorCatalogue? vendor)
    {
        _surroundings = surroundings;
        _vendor = vendor;
        _status = new StatusLine(surroundings);
        _words = new StreamWriter(surroundings.Output, new UTF8Encoding(false), leaveOpen: true);
        _paper = new Paper(_words, surroundings.Columns, colour);
    }

    /// <summary>The last history.</summary>
    public CaptureHistory? History => _account?.History;

    public void Notice(string says)
    {
        _status.Erase();
        _surroundings.Error.WriteLine($"meshtrace: {says}.");
    }

    public void Looked(CaptureHistory history, long nowNs, LiveState state, bool final)
    {
        _account = new Account(history, new NameBook(history), _vendor);
        if (state.Dropped > 0 && history.TimeSpanNs is { } span)
            _telling.BeginAt(span.First);
        double[] shares = [.. history.Nodes.Select(_account.ShareHeard).OfType<double>()];
        _heard = shares.Length == 0 ? null : shares.Average();
        Tell(nowNs, final);
        if (final)
            Conclude(state);
        else
            Show(state);
    }

    public void Ticked(long nowNs, LiveState state)
    {
        if (_account is not null)
            Tell(nowNs, final: false);
        Show(state);
    }

    public void Dispose()
    {
        _status.Dispose();
        _words.Dispose();
    }

    private void Show(LiveState state)
    {
        if (!_status.IsDue)
            return;
        string heard = _heard is { } share ? $", {Phrases.Percent(share)} heard" : "";
        string unanswered = _telling.ToldAs(PressOutcome.None) + _telling.ToldAs(PressOutcome.Some) is > 0 and var count ? $" ({Phrases.Number(count)} not answered by all)" : "";
        string lost = state.Lost + state.LostBefore is > 0 and var all ? $", {Phrases.Number(all)} lost by overload" : "";
        _status.Show($"receiving: {Phrases.Count(state.Frames, "frame")}{heard}, {Phrases.Count(_telling.Presses, "press", "presses")}{unanswered}, {Phrases.Number(state.Waiting)} waiting{lost}");
    }

    private void Tell(long nowNs, bool final)
    {
        CaptureHistory history = _account!.History;
        List<ToldPress> presses = _telling.TakePresses(history, nowNs, final);
        List<int> findings = _telling.TakeFindings(history, nowNs, final);
        if (presses.Count + findings.Count == 0)
            return;
        _status.Erase();
        foreach (ToldPress told in presses)
            Write(told);
        foreach (int row in findings)
            Write(history.Findings[row]);
        Flush();
    }

    private void Write(ToldPress told)
    {
        Press press = _account!.History.Presses[told.Row];
        WriteDay(press.TimeNs);
        string before = told.Before is { } otherwise ? $" (told as {PressSection.MarkOf(otherwise)} before)" : "";
        _paper.Line(
            new Cell(Phrases.Clock(press.TimeNs) + "  "),
            new Cell(DisplayWidth.Fit(PressSection.MarkOf(press.Outcome), 4), PressSection.ToneOf(press.Outcome)),
            new Cell($"  press {told.Number.ToString(CultureInfo.InvariantCulture)}{before}: {DisplayWidth.Isolate(_account.Names.Short(press.Src))} > {DisplayWidth.Isolate(_account.Names.Short(press.Dst))}, {press.Asks}: {PressSection.DetailOf(press, _account, int.MaxValue)}"));
    }

    private void Write(Finding finding)
    {
        WriteDay(finding.TimeNs);
        List<string> numbers = [.. finding.Presses.Select(row => _telling.NumberOf(_account!.History, row)).OfType<int>().Select(number => Phrases.Number(number))];
        string about = numbers.Count == 0 ? "" : $" ({(numbers.Count == 1 ? "press" : "presses")} {Phrases.List(numbers, 6)})";
        _paper.Paragraph($"{FindingWords.Severity(finding)}, {finding.Id}{about}: {FindingWords.Says(finding)}", Phrases.Clock(finding.TimeNs) + "  ", markTone: FindingWords.ToneOf(finding));
        if (FindingWords.Remedy(finding) is { Length: > 0 } remedy)
            _paper.Paragraph("What to do: " + remedy, Indent, Tone.Quiet);
    }

    private void WriteDay(long timeNs)
    {
        if (Phrases.Day(timeNs) is { } day && day != _day)
            _paper.Line(new Cell(_day = day, Tone.Quiet));
    }

    private void Conclude(LiveState state)
    {
        _status.Erase();
        string end = $"End of the account: {Phrases.Count(state.Frames, "frame")}, {Phrases.Count(_telling.Presses, "press", "presses")}{Fates()}, {Phrases.Count(_telling.Findings, "finding")}.";
        _paper.Paragraph(end, "");
        if (state.Lost + state.LostBefore > 0)
            _paper.Paragraph($"Lost by overload: {Phrases.Count(state.Lost, "frame")} here, {Phrases.Number(state.LostBefore)} before they came here. What is not heard may well have been sent.", "");
        if (state.Dropped > 0)
            _paper.Paragraph($"Left the history before the end: {Phrases.Count(state.Dropped, "frame")}.", "");
        Flush();
    }

    private string Fates()
    {
        if (_telling.Told == 0)
            return "";
        string[] fates = [.. new[] { PressOutcome.All, PressOutcome.Some, PressOutcome.None, PressOutcome.Unknown }.Where(outcome => _telling.ToldAs(outcome) > 0)
            .Select(outcome => $"{Phrases.Number(_telling.ToldAs(outcome))} {PressSection.MarkOf(outcome)}")];
        return $" ({string.Join(", ", fates)})";
    }

    private void Flush()
    {
        _words.Flush();
        _surroundings.Output.Flush();
    }
}
