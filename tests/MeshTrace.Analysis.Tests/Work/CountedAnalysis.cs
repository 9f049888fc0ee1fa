using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Analysis.Tests.Work;

/// <summary>An analysis of a composed load whose work is counted. Everything runs on the calling thread, so that what other tests do counts for nothing.</summary>
internal sealed class CountedAnalysis
{
    private readonly byte[] _capture, _description;

    public CountedAnalysis(LoadPlan plan)
    {
        using var capture = new MemoryStream();
        Summary = LoadComposer.WriteCapture(plan, capture);
        using var description = new MemoryStream();
        LoadComposer.WriteDescription(plan, description);
        (_capture, _description) = (capture.ToArray(), description.ToArray());
        Run();      // what is made once in a process is in no count
        long before = GC.GetAllocatedBytesForCurrentThread();
        History = Run();
        AllocatedOctets = GC.GetAllocatedBytesForCurrentThread() - before - History.Memory.Untouched;
    }

    public LoadSummary Summary { get; }
    public CaptureHistory History { get; }

    /// <summary>All that the analysis allocated, whether or not it kept it, but for what lies untouched at the end of a slab.</summary>
    public long AllocatedOctets { get; }

    private CaptureHistory Run()
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = NetworkDescriptionReader.Read(_description, "load"), Cores = 1 });
        using IFrameSource source = CaptureFile.Open(new MemoryStream(_capture), "load");
        analysis.Read(source);
        return analysis.Complete();
    }
}
