namespace MeshTrace.Survey.Tests.Support;

/// <summary>Files of the repository that the tests use as a user does.</summary>
internal static class Repository
{
    public static readonly string Root = FindRoot();

    public static string Demo(string name) => Path.Combine(Root, "captures-demo", name);

    private static string FindRoot()
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "MeshTrace.sln")))
                return folder.FullName;
        }
        throw new InvalidOperationException("MeshTrace.sln stands in no folder above the tests");
    }
}
