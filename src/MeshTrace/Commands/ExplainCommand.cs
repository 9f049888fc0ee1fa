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
    private readonly Option<string> _colour = new("--colour", "--color") { DefaultValueFactory = _ => "auto", HelpName = "WHEN" };
    private readonly CaptureOptions _capture;

    public ExplainCommand(Surroundings surroundings, CancellationToken stop) : base("explain", HelpText.ExplainSummary)
    {
        _capture = new CaptureOptions(this, surroundings);
        _colour.AcceptOnlyFromAmong("auto", "always", "never");
        Add(_colour);
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
            Explanation.Write(history, new Paper(words, surroundings.Columns, WantsColour(result.GetValue(_colour), surroundings)), vendor);
        surroundings.Output.Flush();
        return run.Conclude(history);
    }

    /// <summary>Asked for outright wins; else only on a capable terminal, and never against NO_COLOR (which counts when it is not empty).</summary>
    private static bool WantsColour(string? when, Surroundings surroundings) => when switch
    {
        "always" => true,
        "never" => false,
        _ => surroundings is { OutputIsTerminal: true, TerminalIsCapable: true } && string.IsNullOrEmpty(surroundings.Environment("NO_COLOR")),
    };
}
