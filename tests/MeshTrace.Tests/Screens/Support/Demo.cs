using System.Text;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Screens;
using MeshTrace.Screens.Octets;
using MeshTrace.Screens.Reading;
using MeshTrace.Tests.Architecture;

namespace MeshTrace.Tests.Screens.Support;

/// <summary>The two demo captures, analysed, and browsers over them.</summary>
internal static class Demo
{
    private static readonly Lazy<(CaptureHistory History, NodeTracks Tracks)> LazyLibrary = new(() => Analyse("library"));
    private static readonly Lazy<(CaptureHistory History, NodeTracks Tracks)> LazyBoathouse = new(() => Analyse("boathouse"));

    public static CaptureHistory Library => LazyLibrary.Value.History;
    public static CaptureHistory Boathouse => LazyBoathouse.Value.History;

    public static string Capture(string name) => Path.Combine(Repository.Root, "captures-demo", name + ".pcapng");

    /// <param name="name">Which demo.</param>
    /// <param name="rename">Changes the text of the description before it is read.</param>
    public static (CaptureHistory History, NodeTracks Tracks) Analyse(string name, Func<string, string>? rename = null)
    {
        string json = File.ReadAllText(Path.Combine(Repository.Root, "captures-demo", name + ".network.json"));
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = NetworkDescriptionReader.Read(Encoding.UTF8.GetBytes(rename is null ? json : rename(json)), name) });
        using IFrameSource source = CaptureFile.Open(Capture(name));
        analysis.Read(source);
        CaptureHistory history = analysis.Complete();
        return (history, NodeTracks.Of(history));
    }

    public static Workspace Settled(string name = "library")
    {
        (CaptureHistory history, NodeTracks tracks) = name == "library" ? LazyLibrary.Value : LazyBoathouse.Value;
        var workspace = new Workspace();
        workspace.Settle(history, tracks);
        return workspace;
    }

    public static Outlets NoOutlets { get; } = new(_ => { }, (_, _) => "");

    /// <summary>A browser whose frames are read at once, on the same thread.</summary>
    public static Browser Browse(Workspace workspace, Outlets? outlets = null) => new(workspace, FramesAtOnce(), outlets ?? NoOutlets);

    public static FrameStore FramesAtOnce() => new(work => work(), work => work());

    public static void Take(this Browser browser, params ReadOnlySpan<Stroke> strokes)
    {
        foreach (Stroke stroke in strokes)
        {
            browser.Compose(80, 24);
            browser.Take(stroke);
        }
    }

    public static void Type(this Browser browser, string letters)
    {
        foreach (char letter in letters)
            browser.Take(letter);
    }

    public static string Text(this Browser browser, int columns = 80, int lines = 24) => string.Join('\n', browser.Compose(columns, lines).Select(line => line.ToString()));
}
