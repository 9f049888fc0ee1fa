using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;

namespace MeshTrace.Reports.Words;

/// <summary>A finding in words: how bad and how sure it is, what it says, what to do, and what it rests on.</summary>
public static class FindingWords
{
    public const int LongestSentence = 600;
    private const int MostEvidence = 6;

    /// <summary>How bad and how sure: "Fault (likely)".</summary>
    public static string Severity(Finding finding)
    {
        string severity = finding.Severity switch { Analysis.Findings.Severity.Fault => "Fault", Analysis.Findings.Severity.Warning => "Warning", _ => "Remark" };
        return finding.Confidence switch
        {
            Confidence.Certain => severity + " (certain)",
            Confidence.Likely => severity + " (likely)",
            _ => severity + " (possible)",
        };
    }

    public static Tone ToneOf(Finding finding) => finding.Severity switch
    {
        Analysis.Findings.Severity.Fault => Tone.Bad,
        Analysis.Findings.Severity.Warning => Tone.Mixed,
        _ => Tone.Quiet,
    };

    public static string Says(Finding finding) => SafeText.Strip(finding.Says, LongestSentence) ?? "";

    public static string Remedy(Finding finding) => SafeText.Strip(finding.Remedy, LongestSentence) ?? "";

    /// <summary>The records it rests on, by their numbers in records: "presses 7 and 8, flood 120". Empty where it rests on the description alone.</summary>
    public static string Evidence(Finding finding)
    {
        IEnumerable<string> kinds = finding.Evidence.GroupBy(one => one.Record).Select(kind =>
        {
            List<string> rows = [.. kind.Select(one => one.Row + 1).Distinct().Order().Select(row => Phrases.Number(row))];
            string name = rows.Count == 1 ? kind.Key : kind.Key.EndsWith('s') ? kind.Key + "es" : kind.Key + "s";
            return $"{name} {Phrases.List(rows, MostEvidence)}";
        });
        return string.Join("; ", kinds);
    }
}
