using System.Diagnostics;
using System.Text;
using MeshTrace.Commands;

namespace MeshTrace.Survey.Tests.Support;

/// <summary>What a run of a program gave.</summary>
internal sealed record Outcome(int Code, string Output, string Error)
{
    /// <summary>Checks the exit code, and shows what was said where it is another.</summary>
    public Outcome Ended(int code)
    {
        Assert.True(Code == code, $"exit code {Code}, expected {code}; standard error: {Error}");
        Assert.DoesNotContain("   at MeshTrace", Error, StringComparison.Ordinal);
        return this;
    }
}

/// <summary>Runs the programs: the built ones as processes, or their command layer within this process.</summary>
internal static class Run
{
    private const int LongestRunMs = 120_000;

    /// <summary>The built program <c>meshtrace</c>, beside which the built <c>meshtrace-survey</c> stands.</summary>
    public static Outcome Program(params string[] arguments)
    {
        using Process process = Start(arguments);
        Task<string> output = process.StandardOutput.ReadToEndAsync(), error = process.StandardError.ReadToEndAsync();
        if (!process.WaitForExit(LongestRunMs))
        {
            process.Kill(entireProcessTree: true);
            throw new TimeoutException("the program did not end: " + string.Join(' ', arguments));
        }
        return new Outcome(process.ExitCode, output.GetAwaiter().GetResult(), error.GetAwaiter().GetResult());
    }

    /// <summary>Starts the built program and leaves it running.</summary>
    public static Process Start(params string[] arguments)
    {
        var start = new ProcessStartInfo("dotnet") { RedirectStandardOutput = true, RedirectStandardError = true, StandardOutputEncoding = Encoding.UTF8, StandardErrorEncoding = Encoding.UTF8 };
        start.ArgumentList.Add(Path.Combine(AppContext.BaseDirectory, "meshtrace.dll"));
        foreach (string argument in arguments)
            start.ArgumentList.Add(argument);
        return Process.Start(start)!;
    }

    /// <summary>The command layer of <c>meshtrace</c> in this process.</summary>
    public static Outcome Here(params string[] arguments) => Here(arguments, CancellationToken.None);

    public static Outcome Here(string[] arguments, CancellationToken stop)
    {
        using var output = new MemoryStream();
        using var error = new StringWriter { NewLine = "\n" };
        int code = new Application(new Surroundings { Output = output, Error = error }).Run(arguments, stop);
        return new Outcome(code, Encoding.UTF8.GetString(output.ToArray()), error.ToString());
    }

    /// <summary>The program <c>meshtrace-survey</c> in this process.</summary>
    public static Outcome Compare(params string[] arguments)
    {
        using var output = new StringWriter { NewLine = "\n" };
        using var error = new StringWriter { NewLine = "\n" };
        int code = new SurveyProgram(output, error).Run(arguments);
        return new Outcome(code, output.ToString(), error.ToString());
    }
}
