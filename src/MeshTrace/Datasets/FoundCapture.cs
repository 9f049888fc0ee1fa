namespace MeshTrace.Datasets;

/// <summary>One capture of a survey.</summary>
/// <param name="Name">Its path within the folder, with '/' between the parts, whatever the system.</param>
/// <param name="File">Where it lies.</param>
/// <param name="Description">The network description that lies beside it, or null.</param>
internal sealed record FoundCapture(string Name, string File, string? Description)
{
    /// <summary>The folder that it lies in; of a capture at the top its own name without endings.</summary>
    public string Site => Name.LastIndexOf('/') is var at and > 0 ? Name[..at] : CaptureFinder.WithoutEndings(Name);
}
