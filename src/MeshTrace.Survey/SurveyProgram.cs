using System.CommandLine;
using System.CommandLine.Help;
using System.CommandLine.Invocation;
using DuckDB.NET.Data;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Survey;

/// <summary>The program <c>meshtrace-survey</c>: compares the sites of a dataset. Exit codes are those of docs/exit-codes.md.</summary>
internal sealed class SurveyProgram(TextWriter output, TextWriter error)
{
    public const int Fine = 0, Internal = 1, Usage = 2, Unreadable = 3, Unwritable = 6;

    private const string Sites = "site", Captures = "capture", Text = "text", Csv = "csv";
    private const int LongestMessage = 600;

    private static readonly Argument<string> Dataset = new("DATASET");
    private static readonly Option<string> By = new("--by") { DefaultValueFactory = _ => Sites };
    private static readonly Option<string> As = new("--as") { DefaultValueFactory = _ => Text };

    /// <summary>Help, written by hand.</summary>
    internal const string Help =
        """
        Compares the sites of a dataset that 'meshtrace survey' wrote: presses and their
        fates, findings, how much was heard, how long answers took.

        Usage: meshtrace-survey DATASET [options]

          DATASET               The folder that 'meshtrace survey' made.

        Options:
          --by site|capture     One line a site (the default), or one a capture.
          --as text|csv         A table of 80 columns (the default), or comma-separated
                                values, with a column for each finding.

        Example:
          meshtrace-survey dataset --as csv > sites.csv

        Exit codes: 0 all well; 2 the command line cannot be understood; 3 the dataset
        cannot be read; 6 the result cannot be written; 1 a fault of the program itself.

        """;

    /// <summary>Runs the program and gives its exit code.</summary>
    public int Run(string[] arguments)
    {
        try
        {
            int code = Tree().Parse(arguments, new ParserConfiguration { ResponseFileTokenReplacer = null }) is var result && result.Action is ParseErrorAction
                ? Fail(Usage, result.Errors[0].Message, "See 'meshtrace-survey --help'.")
                : result.Invoke(new InvocationConfiguration { EnableDefaultExceptionHandler = false, ProcessTerminationTimeout = null, Error = error });
            output.Flush();
            return code;
        }
        catch (DatasetException problem)
        {
            return Fail(Unreadable, problem.Message, "Name the folder that 'meshtrace survey FOLDER --to DATASET' made; analyse damaged captures again with --redo.");
        }
        catch (DuckDBException problem)
        {
            return Fail(Unreadable, $"the dataset cannot be read: {problem.Message}", "Analyse the captures again with 'meshtrace survey FOLDER --to DATASET --redo'.");
        }
        catch (DllNotFoundException)
        {
            return Fail(Internal, "the database library of this program is not beside it", "Install the program again, as built for this kind of machine.");
        }
        catch (IOException refused)
        {
            return Fail(Unwritable, $"the result cannot be written: {refused.Message}", "Check the space and the permissions of the place it goes to.");
        }
#pragma warning disable CA1031 // the one place where anything unforeseen becomes words instead of a stack trace
        catch (Exception fault)
#pragma warning restore CA1031
        {
            return Fail(Internal, $"a fault of this program itself ({fault.GetType().Name}: {fault.Message})", "Please report it with the command line.");
        }
    }

    private RootCommand Tree()
    {
        As.AcceptOnlyFromAmong(Text, Csv);
        By.AcceptOnlyFromAmong(Sites, Captures);
        var root = new RootCommand("Compares the sites of a dataset.") { Dataset, By, As };
        foreach (Option option in root.Options)
        {
            if (option is HelpOption)
                option.Action = new Print(output, Help);
            else if (option is VersionOption)
                option.Action = new Print(output, $"meshtrace-survey {SurveyVersion.Text}\n");
        }
        root.SetAction(result =>
        {
            using var reader = new DatasetReader(result.GetRequiredValue(Dataset));
            Comparison comparison = reader.Compare(byCapture: result.GetValue(By) == Captures);
            if (result.GetValue(As) == Csv)
                ComparisonCsv.Write(output, comparison);
            else
                ComparisonText.Write(output, comparison);
            return Fine;
        });
        return root;
    }

    private int Fail(int code, string what, string remedy)
    {
        error.WriteLine($"meshtrace-survey: {SafeText.Strip(what.TrimEnd('.'), LongestMessage)}.");
        error.WriteLine($"What to do: {remedy}");
        error.Flush();
        return code;
    }

    /// <summary>Prints a text and ends well.</summary>
    private sealed class Print(TextWriter output, string text) : SynchronousCommandLineAction
    {
        public override int Invoke(ParseResult parseResult)
        {
            output.Write(text);
            return Fine;
        }
    }
}
