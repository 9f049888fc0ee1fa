using System.Text.RegularExpressions;
using MeshTrace.Analysis.Findings;
using MeshTrace.Benchmarks.Accuracy;
using MeshTrace.Synthesis;

namespace MeshTrace.Analysis.Tests.Accuracy;

/// <summary>docs/accuracy.md is measured, not written: its table has a row for every finding, and every case a fault that can be composed.</summary>
public partial class AccuracyDocumentTests
{
    [Fact]
    public void EveryFinding_HasARow()
    {
        string page = File.ReadAllText(Path.Combine(Root(), "docs", "accuracy.md"));
        string table = page[page.IndexOf("### Findings", StringComparison.Ordinal)..page.IndexOf("| all |", StringComparison.Ordinal)];
        var rows = Row().Matches(table).Select(match => match.Groups[1].Value).ToHashSet();
        Assert.All(FindingCatalogue.All, finding => Assert.Contains(finding.Id, rows));
    }

    [Fact]
    public void EveryCase_CanBeComposed()
    {
        var known = Composer.Faults.Select(fault => fault.Name).ToHashSet();
        Assert.All(FaultCases.All, one => Assert.All(one.Faults(NetworkDrawing.Draw(3, 1, one.Needs)), fault =>
            Assert.Contains(fault["fault"]!.GetValue<string>(), known)));
        Assert.Equal(FaultCases.All.Count, FaultCases.All.Select(one => one.Id).Distinct().Count());
    }

    private static string Root()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "MeshTrace.sln")))
            folder = Path.GetDirectoryName(folder);
        return folder ?? throw new DirectoryNotFoundException("MeshTrace.sln is above the tests");
    }

    [GeneratedRegex("^\\| `([a-z-]+)` \\|", RegexOptions.Multiline)]
    private static partial Regex Row();
}
