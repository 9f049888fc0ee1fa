using System.Text.RegularExpressions;

namespace MeshTrace.Tests.Architecture;

/// <summary>Rules of the house that no analyser checks.</summary>
public sealed partial class HouseRulesTests
{
    private const int LongestFile = 500;
    private static readonly string[] TopLevel = ["README.md", "DEVELOPERS.md", "LICENSE", "MeshTrace.sln", "src", "tests", "captures-demo", "docs"];

    [Fact]
    public void TopLevel_HoldsExactlyTheAgreedEntries()
    {
        HashSet<string> ignored = File.ReadLines(Path.Combine(Repository.Root, ".gitignore")).Select(line => line.Trim().TrimEnd('/')).ToHashSet();
        IEnumerable<string> entries = Directory.EnumerateFileSystemEntries(Repository.Root).Select(path => Path.GetFileName(path)!)
            .Where(name => !name.StartsWith('.') && !ignored.Contains(name));
        Assert.Equal(TopLevel.Order(), entries.Order());
    }

    [Fact]
    public void Source_UsesNoReflection()
    {
        foreach (string file in Repository.CSharpFiles(Path.Combine(Repository.Root, "src")))
            Assert.False(Reflection().IsMatch(File.ReadAllText(file)), $"{file} uses reflection, which keeps a native build from being possible");
    }

    [Fact]
    public void Files_StayShortEnoughToRead()
    {
        foreach (string file in Repository.CSharpFiles(Path.Combine(Repository.Root, "src")).Concat(Repository.CSharpFiles(Path.Combine(Repository.Root, "tests"))))
            Assert.True(File.ReadLines(file).Count() <= LongestFile, $"{file} has more than {LongestFile} lines: look for the second idea in it");
    }

    [Fact]
    public void BannedSymbols_AreWiredToDecodingAndAnalysis()
    {
        string props = File.ReadAllText(Path.Combine(Repository.Root, "src", "Directory.Build.props"));
        Assert.Matches(@"'\$\(MSBuildProjectName\)' == 'MeshTrace\.Protocol' or '\$\(MSBuildProjectName\)' == 'MeshTrace\.Analysis'", props);
        Assert.Contains("Microsoft.CodeAnalysis.BannedApiAnalyzers", props, StringComparison.Ordinal);
        string banned = File.ReadAllText(Path.Combine(Repository.Root, "src", "BannedSymbols.txt"));
        foreach (string symbol in (string[])["P:System.DateTime.Now;", "T:System.BitConverter;", "T:System.Console;", "P:System.Random.Shared;"])
            Assert.Contains(symbol, banned, StringComparison.Ordinal);
    }

    /// <summary>What a native build cannot do. Reading embedded resources is no reflection of this kind.</summary>
    [GeneratedRegex(@"Activator\.CreateInstance|Reflection\.Emit|MakeGeneric(Type|Method)\(|\.Get(Method|Property|Properties|Field|Fields|Constructor)\(|Type\.GetType\(|Assembly\.Load|\bdynamic\s+\w+\s*[=;]")]
    private static partial Regex Reflection();
}
