using System.Reflection;
using System.Xml.Linq;

namespace MeshTrace.Tests.Architecture;

/// <summary>Which project may use which: the arrows between the projects under src/, in the project files and in what was built from them.</summary>
public sealed class ProjectArrowsTests
{
    /// <summary>Projects, the projects each names, and the packages each names.</summary>
    private static readonly Dictionary<string, (string[] Projects, string[] Packages)> Arrows = new()
    {
        ["MeshTrace.Protocol"] = ([], ["BouncyCastle.Cryptography"]),
        ["MeshTrace.Captures"] = (["MeshTrace.Protocol"], ["PacketDotNet", "SharpPcap"]),
        ["MeshTrace.Analysis"] = (["MeshTrace.Protocol"], []),
        ["MeshTrace.Synthesis"] = (["MeshTrace.Protocol", "MeshTrace.Captures"], []),
        ["MeshTrace.Reports"] = (["MeshTrace.Analysis"], ["Parquet.Net", "Wcwidth"]),
        ["MeshTrace"] = (["MeshTrace.Protocol", "MeshTrace.Captures", "MeshTrace.Analysis", "MeshTrace.Synthesis", "MeshTrace.Reports"], ["Markdig", "System.CommandLine", "System.IO.Abstractions", "Terminal.Gui", "TextMateSharp", "TextMateSharp.Grammars"]),
        ["MeshTrace.Survey"] = (["MeshTrace.Reports"], ["DuckDB.NET.Data.Full", "System.CommandLine"]),
    };

    /// <summary>What a project reaches over its arrows: Reports words values of Protocol that Analysis hands it, and no more.</summary>
    private static readonly Dictionary<string, string[]> Reachable = new()
    {
        ["MeshTrace.Protocol"] = [],
        ["MeshTrace.Captures"] = ["MeshTrace.Protocol"],
        ["MeshTrace.Analysis"] = ["MeshTrace.Protocol"],
        ["MeshTrace.Synthesis"] = ["MeshTrace.Protocol", "MeshTrace.Captures"],
        ["MeshTrace.Reports"] = ["MeshTrace.Protocol", "MeshTrace.Analysis"],
        ["meshtrace"] = ["MeshTrace.Protocol", "MeshTrace.Captures", "MeshTrace.Analysis", "MeshTrace.Synthesis", "MeshTrace.Reports"],
    };

    public static TheoryData<string> Projects => [.. Arrows.Keys];

    public static TheoryData<string> Assemblies => [.. Reachable.Keys];

    [Fact]
    public void Source_HoldsExactlyTheAgreedProjects() =>
        Assert.Equal(Arrows.Keys.Order(), Directory.EnumerateDirectories(Path.Combine(Repository.Root, "src")).Select(folder => Path.GetFileName(folder)!).Order());

    [Theory, MemberData(nameof(Projects))]
    public void ProjectFile_NamesExactlyTheAllowedProjects(string project) =>
        Assert.Equal(Arrows[project].Projects.Order(), ReferencesOf(project, "ProjectReference").Select(path => Path.GetFileNameWithoutExtension(path.Replace('\\', '/'))).Order());

    [Theory, MemberData(nameof(Projects))]
    public void ProjectFile_NamesExactlyTheAllowedPackages(string project) =>
        Assert.Equal(Arrows[project].Packages.Order(), ReferencesOf(project, "PackageReference").Order());

    [Theory, MemberData(nameof(Assemblies))]
    public void Assembly_ReachesOnlyAllowedProjects(string assembly)
    {
        IEnumerable<string?> ours = Assembly.Load(assembly).GetReferencedAssemblies().Select(name => name.Name).Where(name => name!.StartsWith("MeshTrace", StringComparison.OrdinalIgnoreCase));
        Assert.Empty(ours.Except(Reachable[assembly]));
    }

    [Theory, MemberData(nameof(Projects))]
    public void Namespaces_FollowTheFolders(string project)
    {
        string folder = Repository.Source(project);
        foreach (string file in Repository.CSharpFiles(folder))
        {
            string? declared = File.ReadLines(file).FirstOrDefault(line => line.StartsWith("namespace ", StringComparison.Ordinal))?["namespace ".Length..].TrimEnd(';');
            if (declared is null && Path.GetFileName(file) == "Program.cs")
                continue;       // top-level statements have no namespace
            string subfolder = Path.GetDirectoryName(Path.GetRelativePath(folder, file))!.Replace(Path.DirectorySeparatorChar, '.');
            Assert.True(declared == (subfolder.Length == 0 ? project : $"{project}.{subfolder}"), $"{file} declares {declared}");
        }
    }

    private static IEnumerable<string> ReferencesOf(string project, string element) =>
        XDocument.Load(Path.Combine(Repository.Source(project), project + ".csproj")).Descendants(element).Select(reference => (string)reference.Attribute("Include")!);
}
