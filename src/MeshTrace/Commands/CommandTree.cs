using System.CommandLine;
using System.CommandLine.Invocation;
using System.Text;

namespace MeshTrace.Commands;

/// <summary>The commands of the program with their options, and where each leads.</summary>
internal sealed class CommandTree
{
    private readonly Surroundings _surroundings;

    public CommandTree(Surroundings surroundings, CancellationToken stop)
    {
        _surroundings = surroundings;
        Root = new RootCommand(HelpText.Summary) { new ExplainCommand(surroundings, stop), new BrowseCommand(surroundings, stop), new ReceiveCommand(surroundings, stop), new RecordsCommand(surroundings, stop), new ReportCommand(surroundings, stop), new ExcerptCommand(surroundings, stop), new SurveyCommand(surroundings, stop), new ComposeCommand(surroundings) };
        foreach (Option option in Root.Options)
        {
            if (option is System.CommandLine.Help.HelpOption)
                option.Action = new Print(surroundings, result => HelpText.Of(result.CommandResult.Command.Name));
            else if (option is VersionOption)
                option.Action = new Print(surroundings, _ => $"meshtrace {ProgramVersion.Text}\n");
        }
        Root.SetAction(_ =>
        {
            _surroundings.Error.Write(HelpText.Of(""));
            return ExitCode.Usage;
        });
    }

    public RootCommand Root { get; }

    /// <summary>Where to read more about what was typed.</summary>
    public static string SeeHelp(ParseResult result)
    {
        string command = result.CommandResult.Command is RootCommand ? "" : result.CommandResult.Command.Name + " ";
        return $"See 'meshtrace {command}--help'.";
    }

    /// <summary>Prints a text and ends well.</summary>
    private sealed class Print(Surroundings surroundings, Func<ParseResult, string> text) : SynchronousCommandLineAction
    {
        public override int Invoke(ParseResult parseResult)
        {
            surroundings.Output.Write(Encoding.UTF8.GetBytes(text(parseResult)));
            return ExitCode.Fine;
        }
    }
}
