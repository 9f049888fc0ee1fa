using MeshTrace.Synthesis.Receivers;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis;

/// <summary>
/// Composes a scenario: simulates its radio network and writes the capture, the network's description and the exact truth. The same
/// scenario gives the same octets on every machine.
/// </summary>
public static class Composer
{
    /// <summary>Composes the scenario file into a directory, which is made where it does not exist.</summary>
    /// <exception cref="ScenarioException">The scenario cannot be read or is wrong.</exception>
    public static ComposeSummary Compose(string scenarioPath, string directory)
    {
        byte[] json;
        try
        {
            json = File.ReadAllBytes(scenarioPath);
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            throw new ScenarioException(scenarioPath, "", "the scenario cannot be read", error);
        }
        return Compose(json, scenarioPath, directory);
    }

    /// <summary>Composes a scenario that is in memory.</summary>
    /// <param name="json">The scenario, UTF-8.</param>
    /// <param name="name">What errors call it.</param>
    /// <param name="directory">Where the files go.</param>
    public static ComposeSummary Compose(ReadOnlyMemory<byte> json, string name, string directory)
    {
        var (meant, described, actual) = Read(json, name);
        Directory.CreateDirectory(directory);
        string Path(string ending) => System.IO.Path.Combine(directory, actual.Name + ending);
        Simulation simulation;
        long frames;
        using (var file = new FileStream(Path(".pcapng"), FileMode.Create, FileAccess.Write, FileShare.Read, 1 << 20))
            (simulation, frames) = Run(meant, described, actual, file);
        using (FileStream file = File.Create(Path(".network.json")))
            DescriptionWriter.Write(file, described);
        using (var file = new FileStream(Path(".truth.json"), FileMode.Create, FileAccess.Write, FileShare.Read, 1 << 16))
            TruthWriter.Write(file, actual, simulation);
        return new ComposeSummary(actual.Name, Path(".pcapng"), Path(".network.json"), Path(".truth.json"), frames,
            simulation.Medium.Packets,
            simulation.Truth.FloodCount, simulation.Truth.Presses.Count, simulation.Truth.Transfers.Count, actual.DurationUs / 1e6);
    }

    /// <summary>Composes a scenario without touching the disk.</summary>
    public static ComposedFiles ComposeInMemory(ReadOnlyMemory<byte> json, string name = "scenario")
    {
        var (meant, described, actual) = Read(json, name);
        using MemoryStream capture = new(), description = new(), truth = new();
        var (simulation, _) = Run(meant, described, actual, capture);
        DescriptionWriter.Write(description, described);
        TruthWriter.Write(truth, actual, simulation);
        return new ComposedFiles(capture.ToArray(), description.ToArray(), truth.ToArray());
    }

    /// <summary>The faults a scenario can name, each with what it does and which members it takes.</summary>
    public static IReadOnlyList<(string Name, string Says, bool Described)> Faults { get; } =
        [.. FaultCatalogue.All.Select(row => (row.Name, row.Says, row.Described))];

    internal static (Simulation Simulation, long Frames) Run(Scenario meant, Scenario described, Scenario actual, Stream capture)
    {
        using var sink = new CaptureSink(capture, actual);
        var simulation = new Simulation(meant, described, actual, sink);
        simulation.Run();
        return (simulation, sink.Frames);
    }

    /// <summary>One file, three readings: as meant, as described, as it is.</summary>
    internal static (Scenario Meant, Scenario Described, Scenario Actual) Read(ReadOnlyMemory<byte> json, string name)
    {
        Scenario meant = ScenarioReader.Read(json, name), described = ScenarioReader.Read(json, name),
            actual = ScenarioReader.Read(json, name);
        FaultCatalogue.Apply(described, onlyDescribed: true);
        FaultCatalogue.Apply(actual, onlyDescribed: false);
        return (meant, described, actual);
    }
}
