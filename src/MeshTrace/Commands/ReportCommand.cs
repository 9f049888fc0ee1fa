using System.CommandLine;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Page;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace report</c>: the account as one page for a browser, a phone and paper.</summary>
internal sealed class ReportCommand : Command
{
    private readonly Option<string> _to = new("--to") { Required = true, HelpName = "FILE" };
    private readonly Option<bool> _overwrite = new("--overwrite");
    private readonly Surroundings _surroundings;
    private readonly CaptureOptions _capture;
    private readonly RedactionOptions _redaction;

    public ReportCommand(Surroundings surroundings, CancellationToken stop) : base("report", HelpText.ReportSummary)
    {
        _surroundings = surroundings;
        _capture = new CaptureOptions(this, surroundings);
        Add(_to);
        Add(_overwrite);
        _redaction = new RedactionOptions(this);
        SetAction(result => Run(result, stop));
    }

    private int Run(ParseResult result, CancellationToken stop)
    {
        IReadOnlyList<string> captures = _capture.Captures(result);
        string to = result.GetRequiredValue(_to);
        bool overwrite = result.GetValue(_overwrite), toOutput = to == CaptureFile.StandardInput, redacts = _redaction.IsAsked(result, captures);
        if (!toOutput)
            OutputFile.Check(to, captures, _capture.OtherFiles(result), overwrite, "report.html");
        AnalysisSettings analysis = _capture.Settings(result);
        VendorCatalogue? vendor = _capture.VendorMessages(result);
        var run = new AnalysisRun(_surroundings, stop, _capture.Udp(result));
        CaptureHistory history = run.Read(captures, analysis);
        CaptureHistory shown = redacts ? run.ReadRedacted(captures, analysis, _redaction.Of(result, history, analysis)) : history;
        var settings = new PageSettings { ProgramVersion = ProgramVersion.Text, Vendor = redacts ? null : vendor };     // names of vendor messages are the vendor's
        if (toOutput)
        {
            CapturePage.Write(shown, _surroundings.Output, settings, stop);
            _surroundings.Output.Flush();
        }
        else
            TableFolder.WriteFile(to, overwrite, output => CapturePage.Write(shown, output, settings, stop));
        return run.Conclude(history);
    }
}
