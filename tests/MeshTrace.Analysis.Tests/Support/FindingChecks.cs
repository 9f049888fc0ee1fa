using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Tests.Support;

/// <summary>Findings of one kind, and that they are fit to be shown.</summary>
internal static class FindingChecks
{
    public static IReadOnlyList<Finding> Of(this CaptureHistory history, string id)
    {
        Finding[] found = [.. history.Findings.Where(finding => finding.Id == id)];
        Assert.All(found, finding =>
        {
            Assert.EndsWith(".", finding.Says);
            Assert.False(string.IsNullOrWhiteSpace(finding.Remedy));
            Assert.InRange(finding.Evidence.Count, 0, 64);
            Assert.All(finding.Evidence, evidence => Assert.InRange(evidence.Row, 0, int.MaxValue));
        });
        return found;
    }
}
