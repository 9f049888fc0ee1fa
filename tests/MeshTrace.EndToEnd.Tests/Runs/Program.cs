using System.Diagnostics;
using System.Text;
using MeshTrace.Commands;

namespace MeshTrace.EndToEnd.Tests.Runs;

/// <summary>Runs the program: as a process, as a user does, or within this process where there are hundreds of runs.</summary>
internal static class Program
{
    private const int LongestRunMs = 120_000;

    private static readonly string? Published = Environment.GetEnvironmentVariable("MESHTRACE_PROGRAM") is { Length: > 0 } file ? Path.GetFullPath(file) : null;

    /// <summary>How the program is called: the one that was built with the tests, or the published one whose file MESHTRACE_PROGRAM names.</summary>
    public static IReadOnlyList<string> Command { get; } = Published is null ? ["dotnet", Path.Combine(AppContext.BaseDirectory, "meshtrace.dll")] : [Published];

    /// <summary>Runs the built program.</summary>
    public static Outcome Run(params string[] arguments) => Run(arguments, input: null, environment: []);

    public static Outcome Run(string[] arguments, byte[]? input, params (string Name, string Value)[] environment)
    {
        using Process process = Start(arguments, environment);
        Task<string> output = process.StandardOutput.ReadToEndAsync(), error = process.StandardError.ReadToEndAsync();
        if (input is not null)
            process.StandardInput.BaseStream.Write(input);
        process.StandardInput.Close();
        if (!process.WaitForExit(LongestRunMs))
        {
            process.Kill(entireProcessTree: true);
            throw new TimeoutException("the program did not end: " + string.Join(' ', arguments));
        }
        return new Outcome(process.ExitCode, output.GetAwaiter().GetResult(), error.GetAwaiter().GetResult());
    }

    /// <summary>Starts the built program and leaves it running.</summary>
    public static Process Start(string[] arguments, params (string Name, string Value)[] environment)
    {
        var start = new ProcessStartInfo(Command[0]) { RedirectStandardInput = true, RedirectStandardOutput = true, RedirectStandardError = true, StandardOutputEncoding = Encoding.UTF8, StandardErrorEncoding = Encoding.UTF8 };
        foreach (string argument in Command.Skip(1).Concat(arguments))
            start.ArgumentList.Add(argument);
        foreach ((string name, string value) in environment)
            start.Environment[name] = value;
        return Process.Start(start)!;
    }

    /// <summary>Runs the program's command layer in this process; a published program that is to be tested is run as one.</summary>
    public static Outcome RunHere(params string[] arguments) => Published is null ? RunHere(arguments, _ => null) : Run(arguments);

    public static Outcome RunHere(string[] arguments, Func<string, string?> environment, bool terminal = false, int columns = 80)
    {
        using var output = new MemoryStream();
        using var error = new StringWriter { NewLine = "\n" };
        int code = new Application(new Surroundings
        {
            Output = output, Error = error, Environment = environment, OutputIsTerminal = terminal, ErrorIsTerminal = terminal, Columns = columns,
        }).Run(arguments, CancellationToken.None);
        return new Outcome(code, Encoding.UTF8.GetString(output.ToArray()), error.ToString());
    }
}
