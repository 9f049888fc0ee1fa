using System.Text.RegularExpressions;
using MeshTrace.Analysis.Findings;

namespace MeshTrace.Analysis.Tests.Findings;

public sealed partial class FindingsDocumentTests
{
    [Fact]
    public void TheDocumentIsUpToDate()
    {
        string made = FindingsDocument.Make();
        if (Environment.GetEnvironmentVariable(FindingsDocument.Regenerate) == "1")
            File.WriteAllText(FindingsDocument.PathOf, made);
        string found = File.Exists(FindingsDocument.PathOf) ? File.ReadAllText(FindingsDocument.PathOf).ReplaceLineEndings("\n") : "";
        Assert.True(made == found,
            $"docs/findings.md is stale. Make it again with: {FindingsDocument.Regenerate}=1 dotnet test tests/MeshTrace.Analysis.Tests --filter FindingsDocument");
    }

    [Fact]
    public void EveryRow_IsWhole_AndHasARule()
    {
        Assert.Equal(FindingCatalogue.All.Count, FindingCatalogue.All.Select(row => row.Id).Distinct().Count());
        HashSet<string> judged = [.. FindingRules.Ids];
        Assert.All(FindingCatalogue.All, row =>
        {
            Assert.Matches(IdPattern(), row.Id);
            Assert.All([row.Asked, row.Rule, row.Remedy, row.Source], text => Assert.NotEmpty(text));
            Assert.EndsWith(".", row.Remedy);
            Assert.False(row.Rule.EndsWith('.'), row.Id);
            Assert.Contains(row.Id, judged);
        });
        Assert.All(judged, id => Assert.Equal(id, FindingCatalogue.Of(id).Id));
    }

    [GeneratedRegex("^[a-z0-9]+(-[a-z0-9]+)*$")]
    private static partial Regex IdPattern();
}
