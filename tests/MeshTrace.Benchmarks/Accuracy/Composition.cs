using System.Text.Json.Nodes;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Notes;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>A drawn network composed with some faults, and what the analysis makes of its capture.</summary>
internal sealed class Composition
{
    private Composition(DrawnNetwork network, TruthFile truth, CaptureHistory history, IReadOnlyList<string> faults, BearerHeard bearer) =>
        (Network, Truth, History, Faults, Bearer) = (network, truth, history, faults, bearer);

    public DrawnNetwork Network { get; }
    public TruthFile Truth { get; }
    public CaptureHistory History { get; }

    /// <summary>What the capture holds of the provisioning bearer.</summary>
    public BearerHeard Bearer { get; }

    /// <summary>Names of the faults in it.</summary>
    public IReadOnlyList<string> Faults { get; }

    /// <summary>Composes in memory, reads the capture with the description, and analyses it.</summary>
    public static Composition Of(DrawnNetwork network, params IReadOnlyList<JsonObject> faults)
    {
        ComposedFiles files = Composer.ComposeInMemory(network.With(faults));
        TruthFile truth = TruthFile.Read(files.Truth);
        long notedNs = truth.StartNs + (long)(network.NotedAtS * 1e9);
        var settings = new AnalysisSettings
        {
            Description = NetworkDescriptionReader.Read(files.Description, "drawn"), Cores = 1,
            Notes = network.NotedAtS == 0 ? [] : [new FieldNote(2, new NoteTime(notedNs, OfDay: false, 1_000_000), network.Panel.Name, "pressed, nothing happened")],
        };
        var analysis = new CaptureAnalysis(settings);
        using IFrameSource source = CaptureFile.Open(new MemoryStream(files.Capture), "drawn");
        analysis.Read(source);
        return new Composition(network, truth, analysis.Complete(), [.. faults.Select(fault => fault["fault"]!.GetValue<string>())],
            network.Device is null ? BearerHeard.Nothing : BearerHeard.Of(files.Capture));
    }
}
