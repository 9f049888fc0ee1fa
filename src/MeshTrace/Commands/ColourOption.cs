using System.CommandLine;

namespace MeshTrace.Commands;

/// <summary>The option on colours, of commands that write words.</summary>
internal sealed class ColourOption
{
    private readonly Option<string> _colour = new("--colour", "--color") { DefaultValueFactory = _ => "auto", HelpName = "WHEN" };

    public ColourOption(Command command)
    {
        _colour.AcceptOnlyFromAmong("auto", "always", "never");
        command.Add(_colour);
    }

    /// <summary>Asked for outright wins; else only on a capable terminal, and never against NO_COLOR (which counts when it is not empty).</summary>
    public bool Wants(ParseResult result, Surroundings surroundings) => result.GetValue(_colour) switch
    {
        "always" => true,
        "never" => false,
        _ => surroundings is { OutputIsTerminal: true, TerminalIsCapable: true } && string.IsNullOrEmpty(surroundings.Environment("NO_COLOR")),
    };
}
