using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests;

public class CoverageDocumentTests
{
    private const string Regenerate = "MESHTRACE_REGENERATE";

    [Fact]
    public void EveryMessageOfTheStandardIsDecoded()
    {
        Assert.All(AccessCatalogue.All, row => Assert.True(CoverageDocument.IsDecoded(row), $"{row}: no payload is read and written back"));
        Assert.All(ControlCatalogue.All, row => Assert.True(CoverageDocument.IsDecoded(row), $"{row}: no payload is read and written back"));
    }

    [Fact]
    public void EveryRowBelongsToASpecification() => Assert.All(AccessCatalogue.All, row =>
        Assert.True(CoverageDocument.Specifications.Any(specification => row.Source.StartsWith(specification.Prefix, StringComparison.Ordinal)), $"{row}: {row.Source}"));

    [Fact]
    public void TheDocumentIsUpToDate()
    {
        string path = Path.Combine(Repository(), "docs", "coverage.md");
        string made = CoverageDocument.Make();
        if (Environment.GetEnvironmentVariable(Regenerate) == "1")
            File.WriteAllText(path, made);
        string found = File.Exists(path) ? File.ReadAllText(path).ReplaceLineEndings("\n") : "";
        Assert.True(made == found,
            $"docs/coverage.md is stale. Make it again with: {Regenerate}=1 dotnet test tests/MeshTrace.Protocol.Tests --filter CoverageDocument");
    }

    private static string Repository()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "MeshTrace.sln")))
            folder = Path.GetDirectoryName(folder);
        return folder ?? throw new DirectoryNotFoundException("MeshTrace.sln is above the tests");
    }
}
