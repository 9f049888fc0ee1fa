namespace MeshTrace.Tests.Architecture;

/// <summary>The sources that these tests were built from.</summary>
internal static class Repository
{
    public static readonly string Root = FindRoot();

    public static string Source(string project) => Path.Combine(Root, "src", project);

    /// <summary>All C# files of a folder, without what the build makes.</summary>
    public static IEnumerable<string> CSharpFiles(string folder) =>
        Directory.EnumerateFiles(folder, "*.cs", SearchOption.AllDirectories)
            .Where(file => !Path.GetRelativePath(folder, file).Split(Path.DirectorySeparatorChar).Any(part => part is "bin" or "obj"));

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
