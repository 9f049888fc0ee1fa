using System.Diagnostics;
using MeshTrace.Analysis.Description;
using MeshTrace.Commands;

namespace MeshTrace.Datasets;

/// <summary>
/// The program of its own that compares the sites of a dataset. The database in it weighs more than all the rest, so it is looked for where it may
/// stand, and told how to run where it does not.
/// </summary>
internal sealed class ComparisonProgram(Surroundings surroundings)
{
    /// <summary>The program's name.</summary>
    public const string Name = "meshtrace-survey";

    private const string Variable = "MESHTRACE_SURVEY", Here = "MeshTrace", Sources = "MeshTrace.Survey";

    /// <summary>Prints the comparison on standard output, or says on standard error how to come by it.</summary>
    /// <returns>The exit code of the program; <see cref="ExitCode.Fine"/> where it is not there.</returns>
    public int Run(string dataset)
    {
        if (Find() is not { } program)
        {
            surroundings.Error.WriteLine($"meshtrace: the comparison is printed by a program of its own, {Name}, which is not installed beside this one.");
            surroundings.Error.WriteLine($"What to do: run '{Name} {SafeText.Strip(dataset, 300)}', or name the program in {Variable}; docs/fleet.md tells more.");
            return ExitCode.Fine;
        }
        var start = new ProcessStartInfo(program) { RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false };
        start.ArgumentList.Add(Path.GetFullPath(dataset));
        try
        {
            using Process process = Process.Start(start)!;
            Task<string> words = process.StandardError.ReadToEndAsync();
            process.StandardOutput.BaseStream.CopyTo(surroundings.Output);
            process.WaitForExit();
            surroundings.Error.Write(words.GetAwaiter().GetResult());
            return process.ExitCode;
        }
        catch (System.ComponentModel.Win32Exception problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, $"{InputFile.Shown(program)} cannot be run: {SafeText.Strip(problem.Message.TrimEnd('.'), 200)}",
                $"Install {Name} again, or name another in {Variable}.", problem);
        }
    }

    private string? Find()
    {
        string file = OperatingSystem.IsWindows() ? Name + ".exe" : Name;
        if (surroundings.Environment(Variable) is { Length: > 0 } named)
            return named;
        string here = Path.TrimEndingDirectorySeparator(AppContext.BaseDirectory);
        IEnumerable<string> places = [here, Path.Combine(here, Name), .. InSources(here)];
        if (surroundings.Environment("PATH") is { } path)
            places = places.Concat(path.Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries));
        return places.Select(place => Path.Combine(place, file)).FirstOrDefault(File.Exists);
    }

    /// <summary>In a source tree, each program stands in the output of its own project: src/MeshTrace/bin/Release/net10.0.</summary>
    private static IEnumerable<string> InSources(string here)
    {
        string? framework = Path.GetFileName(here), configuration = Path.GetFileName(Path.GetDirectoryName(here));
        string? project = Path.GetDirectoryName(Path.GetDirectoryName(Path.GetDirectoryName(here)));
        if (Path.GetFileName(project) != Here || Path.GetDirectoryName(project) is not { } sources)
            return [];
        string output = Path.Combine(sources, Sources, "bin", configuration ?? "", framework ?? "");
        return Directory.Exists(output) ? [output, .. Directory.EnumerateDirectories(output)] : [];
    }
}
