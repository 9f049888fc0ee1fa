namespace MeshTrace.Synthesis.Tests;

internal static class Repository
{
    /// <summary>The folder that holds the solution, found upward from the test's own folder.</summary>
    public static string Root { get; } = Find(new DirectoryInfo(AppContext.BaseDirectory));

    private static string Find(DirectoryInfo? folder)
    {
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "MeshTrace.sln")))
            folder = folder.Parent;
        return folder?.FullName ?? throw new InvalidOperationException("MeshTrace.sln is in no folder above the tests.");
    }
}
