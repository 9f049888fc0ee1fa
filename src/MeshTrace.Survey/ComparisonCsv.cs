using System.Buffers;
using System.Globalization;
using System.Text;
using MeshTrace.Reports.Tables;

namespace MeshTrace.Survey;

/// <summary>The comparison as comma-separated values (RFC 4180): one line a site or capture, the findings as columns <c>finding.ID</c> at the end.</summary>
internal static class ComparisonCsv
{
    private static readonly string[] Names =
        ["captures", "damaged", "nothingDecoded", "frames", "presses", "answeredByAll", "answeredBySome", "lost", "unknown", "answeredShare", "latencyMs", "heardShare"];

    public static void Write(TextWriter output, Comparison comparison)
    {
        string[] findings = [.. comparison.Sites.SelectMany(site => site.Findings).Select(finding => finding.Id).Distinct().Order(StringComparer.Ordinal)];
        output.Write(string.Join(',', [comparison.ByCapture ? "capture" : "site", .. Names, .. findings.Select(id => Cell("finding." + id))]) + "\r\n");
        foreach (ComparedSite site in comparison.Sites)
        {
            Dictionary<string, long> counts = site.Findings.GroupBy(finding => finding.Id).ToDictionary(group => group.Key, group => group.Sum(finding => finding.Count));
            output.Write(string.Join(',', [Cell(site.Name), .. Numbers(site), .. findings.Select(id => Number(counts.GetValueOrDefault(id)))]) + "\r\n");
        }
    }

    private static string[] Numbers(ComparedSite site) =>
    [
        Number(site.Captures), Number(site.Damaged), Number(site.NothingDecoded), Number(site.Frames), Number(site.Presses), Number(site.AnsweredByAll), Number(site.AnsweredBySome),
        Number(site.Lost), Number(site.Unknown), Number(site.AnsweredShare), Number(site.LatencyMs), Number(site.HeardShare),
    ];

    private static string Number(long value) => value.ToString(CultureInfo.InvariantCulture);

    private static string Number(double? value) => value?.ToString("R", CultureInfo.InvariantCulture) ?? "";

    private static string Cell(string text)
    {
        var cell = new ArrayBufferWriter<byte>();
        CsvText.Write(cell, Encoding.UTF8.GetBytes(text));
        return Encoding.UTF8.GetString(cell.WrittenSpan);
    }
}
