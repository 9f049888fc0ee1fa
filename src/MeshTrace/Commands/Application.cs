using System.CommandLine;
using System.CommandLine.Invocation;
using System.Runtime.InteropServices;
using System.Text;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Commands;

/// <summary>The program: reads the command line, runs the command, turns every outcome into an exit code and words on standard error.</summary>
public sealed class Application
{
    private const int BrokenPipe = 32, WindowsBrokenPipe = unchecked((int)0x8007006D), WindowsPipeClosing = unchecked((int)0x800700E8);
    private const int LongestMessage = 2000;

    private readonly Surroundings _surroundings;

    public Application(Surroundings surroundings) => _surroundings = surroundings;

    /// <summary>Runs the program and gives its exit code. Ctrl-C and termination requests stop it between two frames.</summary>
    public int Run(string[] arguments)
    {
        using var interrupted = new CancellationTokenSource();
        void Interrupt(PosixSignalContext context)
        {
            context.Cancel = !interrupted.IsCancellationRequested;      // the second one ends the program at once
            interrupted.Cancel();
        }
        using PosixSignalRegistration interrupt = PosixSignalRegistration.Create(PosixSignal.SIGINT, Interrupt);
        using PosixSignalRegistration terminate = PosixSignalRegistration.Create(PosixSignal.SIGTERM, Interrupt);
        return Run(arguments, interrupted.Token);
    }

    /// <summary>As <see cref="Run(string[])"/>, without signals.</summary>
    public int Run(IReadOnlyList<string> arguments, CancellationToken stop)
    {
        try
        {
            int code = Invoke(arguments, stop);
            _surroundings.Output.Flush();
            return code;
        }
        catch (UserErrorException error)
        {
            return Fail(error.ExitCode, error.Message, error.Remedy);
        }
        catch (OperationCanceledException)
        {
            return ExitCode.Interrupted;
        }
        catch (IOException closed) when (closed.HResult is BrokenPipe or WindowsBrokenPipe or WindowsPipeClosing)
        {
            return ExitCode.Fine;       // the reader has seen enough, as 'head' does
        }
        catch (IOException refused)
        {
            return Fail(ExitCode.Unwritable, $"the result cannot be written: {refused.Message}", "Check the space and the permissions of the place it goes to.");
        }
#pragma warning disable CA1031 // the one place where anything unforeseen becomes words instead of a stack trace
        catch (Exception fault)
#pragma warning restore CA1031
        {
            return Fail(ExitCode.Internal, $"a fault of this program itself ({fault.GetType().Name}: {fault.Message})",
                "Please report it with the command line and, if you may share it, the capture; leave out all keys.");
        }
    }

    private int Invoke(IReadOnlyList<string> arguments, CancellationToken stop)
    {
        var tree = new CommandTree(_surroundings, stop);
        // '@' begins a file that holds keys, not a file of arguments.
        ParseResult result = tree.Root.Parse(arguments, new ParserConfiguration { ResponseFileTokenReplacer = null });
        if (result.Action is ParseErrorAction)
            throw new UserErrorException(ExitCode.Usage, SafeText.Strip(result.Errors[0].Message.TrimEnd('.'), LongestMessage), CommandTree.SeeHelp(result));
        return result.Invoke(new InvocationConfiguration { EnableDefaultExceptionHandler = false, ProcessTerminationTimeout = null, Error = _surroundings.Error });
    }

    /// <summary>A key typed in the wrong place must not come back on the screen: what could be one is left out of every message.</summary>
    internal static string HideKeys(string text)
    {
        const int KeyDigits = 32;
        var shown = new StringBuilder(text.Length);
        for (int at = 0; at < text.Length;)
        {
            int end = at;
            while (end < text.Length && char.IsAsciiHexDigit(text[end]))
                end++;
            if (end - at >= KeyDigits)
                shown.Append("(a key?)");
            else
                shown.Append(text, at, end - at);
            if (end < text.Length)
                shown.Append(text[end]);
            at = end + 1;
        }
        return shown.ToString();
    }

    private int Fail(int code, string what, string remedy)
    {
        what = HideKeys(what);
        _surroundings.Error.WriteLine($"meshtrace: {what}{(what.EndsWith('.') || what.EndsWith('?') ? "" : ".")}");
        if (remedy.Length > 0)
            _surroundings.Error.WriteLine($"What to do: {remedy}");
        _surroundings.Error.Flush();
        return code;
    }
}
