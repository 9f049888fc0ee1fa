using System.Diagnostics;
using System.Text.Json;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>What is handed out: its licences, and the script that makes it.</summary>
public sealed class HandedOutTests
{
    /// <summary>What the program is built from stands in the file that its build writes for the runtime.</summary>
    [Fact]
    public void EveryPackageInTheProgram_IsInTheListOfLicences_AndNoOther()
    {
        using JsonDocument dependencies = JsonDocument.Parse(File.ReadAllText(Path.Combine(AppContext.BaseDirectory, "meshtrace.deps.json")));
        IEnumerable<string> built = dependencies.RootElement.GetProperty("libraries").EnumerateObject().Where(library => library.Value.GetProperty("type").GetString() == "package")
            .Select(library => library.Name[..library.Name.IndexOf('/', StringComparison.Ordinal)]);
        IEnumerable<string> listed = File.ReadLines(Repository.Document("licences.md")).Where(line => line.StartsWith("| ", StringComparison.Ordinal)).Skip(2)
            .SelectMany(line => line.Split('|')[1].Split(',')).Select(name => name.Split('(')[0].Trim()).Where(name => name != ".NET runtime");
        Assert.Equal(built.Order(StringComparer.Ordinal), listed.Order(StringComparer.Ordinal));
    }

    [SkippableFact]
    public void TheScript_RefusesWhatItDoesNotKnow_BeforeItBuildsAnything()
    {
        Skip.If(OperatingSystem.IsWindows(), "the script is one of a Unix shell");
        var start = new ProcessStartInfo(Path.Combine(Repository.Root, "src", "publish"), ["linux-x64", "linux-x46"]) { RedirectStandardError = true, RedirectStandardOutput = true };
        using Process process = Process.Start(start)!;
        string error = process.StandardError.ReadToEnd(), output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        Assert.Equal((2, "src/publish: 'linux-x46' is none of: tool linux-x64 linux-arm64 win-x64 osx-arm64 --one-file\n", ""), (process.ExitCode, error, output));
    }
}
