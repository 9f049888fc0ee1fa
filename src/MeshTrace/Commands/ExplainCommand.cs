using System.CommandLine;
using System.Text;
using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Words;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace explain</c>: the account in plain words.</summary>
internal sealed class ExplainCommand : Command
{
    private readonly ColourOption _colour;
    private readonly CaptureOptions _capture;

    public ExplainCommand(Surroundings surroundings, CancellationToken stop) : base("explain", HelpText.ExplainSummary)
    {
        _capture = new CaptureOptions(this, surroundings);
        _colour = new ColourOption(this);
        SetAction(result => Run(result, surroundings, stop));
    }

    private int Run(ParseResult result, Surroundings surroundings, CancellationToken stop)
    {
        IReadOnlyList<string> captures = _capture.Captures(result);
        AnalysisSettings settings = _capture.Settings(result);
        VendorCatalogue? vendor = _capture.VendorMessages(result);
        var run = new AnalysisRun(surroundings, stop, _capture.Udp(result));
        CaptureHistory history = run.Read(captures, settings);
        using (var words = new StreamWriter(surroundings.Output, new UTF8Encoding(false), leaveOpen: true))
            Explanation.Write(history, new Paper(words, surroundings.Columns, _colour.Wants(result, surroundings)), vendor);
        surroundings.Output.Flush();
        return run.Conclude(history);
    }
}
