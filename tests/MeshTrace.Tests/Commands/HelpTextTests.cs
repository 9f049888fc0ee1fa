using System.CommandLine;
using System.CommandLine.Help;
using System.Text.RegularExpressions;
using MeshTrace.Commands;

namespace MeshTrace.Tests.Commands;

/// <summary>The help is written by hand: it must name every option there is, and none that there is not.</summary>
public sealed partial class HelpTextTests
{
    private static readonly CommandTree Tree = new(new Surroundings { Output = Stream.Null, Error = TextWriter.Null }, CancellationToken.None);

    public static TheoryData<string> CommandNames => [.. Tree.Root.Subcommands.Select(command => command.Name)];

    [Theory, MemberData(nameof(CommandNames))]
    public void Help_NamesExactlyTheOptionsOfTheCommand(string name)
    {
        Command command = Tree.Root.Subcommands.Single(command => command.Name == name);
        IEnumerable<string> options = command.Options.Where(option => option is not HelpOption).SelectMany(option => option.Aliases.Append(option.Name));
        HashSet<string> named = [.. OptionName().Matches(HelpText.Of(name)).Select(match => match.Value)];
        named.Remove("--help");
        Assert.Equal(options.Order(), named.Order());
    }

    [Fact]
    public void ProgramHelp_NamesEveryCommand() =>
        Assert.All(Tree.Root.Subcommands, command => Assert.Contains($"meshtrace {command.Name} ", HelpText.Of(""), StringComparison.Ordinal));

    [Theory, MemberData(nameof(CommandNames)), InlineData("")]
    public void Help_FitsTheNarrowestUsualTerminal(string name) =>
        Assert.All(HelpText.Of(name).Split('\n'), line => Assert.True(line.Length <= 82, line));

    [Fact]
    public void ExitCodes_StandInHelpAndDocument()
    {
        string document = File.ReadAllText(Path.Combine(Architecture.Repository.Root, "docs", "exit-codes.md"));
        Assert.Contains($"| {ExitCode.SomeFailed} |", document, StringComparison.Ordinal);
        Assert.Contains($"\n  {ExitCode.SomeFailed}  some captures failed", HelpText.Of("survey"), StringComparison.Ordinal);
        foreach (int code in (int[])[ExitCode.Fine, ExitCode.Internal, ExitCode.Usage, ExitCode.Unreadable, ExitCode.NothingDecoded, ExitCode.Damaged, ExitCode.Unwritable, ExitCode.Interrupted])
        {
            Assert.Contains($"| {code} |", document, StringComparison.Ordinal);
            Assert.Matches($@"(^|[ ;\n]){code} ", HelpText.Of("explain")[HelpText.Of("explain").IndexOf("Exit codes:", StringComparison.Ordinal)..]);
        }
    }

    [GeneratedRegex("--[a-z][a-z-]*")]
    private static partial Regex OptionName();
}
