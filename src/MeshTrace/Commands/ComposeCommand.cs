using System.CommandLine;
using System.Text;
using MeshTrace.Analysis.Description;
using MeshTrace.Synthesis;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Commands;

/// <summary><c>meshtrace compose</c>: capture, description and truth of a simulated network.</summary>
internal sealed class ComposeCommand : Command
{
    private readonly Argument<string> _scenario = new("SCENARIO");
    private readonly Option<string> _to = new("--to") { Required = true, HelpName = "DIR" };

    public ComposeCommand(Surroundings surroundings) : base("compose", HelpText.ComposeSummary)
    {
        Add(_scenario);
        Add(_to);
        SetAction(result => Run(result.GetRequiredValue(_scenario), result.GetRequiredValue(_to), surroundings));
    }

    private static int Run(string scenario, string directory, Surroundings surroundings)
    {
        ComposeSummary made;
        try
        {
            made = Composer.Compose(scenario, directory);
        }
        catch (ScenarioException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, $"the scenario cannot be composed: {SafeText.Strip(problem.Message.TrimEnd('.'), 600)}",
                "Correct the scenario at that place.", problem);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new UserErrorException(ExitCode.Unwritable, $"{InputFile.Shown(directory)} cannot be written: {SafeText.Strip(problem.Message.TrimEnd('.'), 300)}",
                "Check the folder, its permissions and the space on the disk.", problem);
        }
        using var words = new StreamWriter(surroundings.Output, new UTF8Encoding(false), leaveOpen: true) { NewLine = "\n" };
        words.WriteLine(FormattableString.Invariant($"{made.Name}: {made.DurationS:N0} s, {made.Frames:N0} frames, {made.Presses} presses, {made.Transfers} transfers."));
        foreach (string file in (string[])[made.Capture, made.Description, made.Truth])
            words.WriteLine("  " + SafeText.Strip(file, 1000));
        return ExitCode.Fine;
    }
}
