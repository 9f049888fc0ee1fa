using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Reports.Words;

namespace MeshTrace.Survey;

/// <summary>The comparison as a table of 80 columns.</summary>
internal static class ComparisonText
{
    private const int Columns = 80, NameColumns = 18;
    private const string Unknown = "-";

    public static void Write(TextWriter output, Comparison comparison)
    {
        output.WriteLine(Pad(comparison.ByCapture ? "capture" : "site", NameColumns) + " captures presses answered   part   lost   open  latency heard");
        foreach (ComparedSite site in comparison.Sites)
            output.WriteLine(Row(site));
        output.WriteLine();
        Wrap(output, "answered: share of the presses that all asked answered, of those whose fate is known. part: some answered. lost: nobody did. open: the recordings cannot tell. "
            + "latency: median, first request to last first answer. heard: median share of a node's traffic that was heard; where it is low, little can be said.");
        foreach (ComparedSite site in comparison.Sites.Where(site => site.Damaged > 0 || site.NothingDecoded > 0))
        {
            output.WriteLine();
            Wrap(output, $"{Shown(site.Name)}: {Count(site.Damaged)} of its captures damaged, {Count(site.NothingDecoded)} without anything decoded (no mesh traffic, or no key for it).");
        }
        if (comparison.Sites.All(site => site.Findings.Count == 0))
            return;
        output.WriteLine();
        output.WriteLine("Findings");
        foreach (ComparedSite site in comparison.Sites.Where(site => site.Findings.Count > 0))
        {
            output.WriteLine("  " + DisplayWidth.CutMiddle(Shown(site.Name), Columns - 2));
            foreach (FindingCount finding in site.Findings)
                output.WriteLine($"    {Count(finding.Count),6}  {finding.Severity,-8}  {DisplayWidth.Cut(SafeText.Strip(finding.Id), Columns - 22)}");
        }
    }

    private static string Row(ComparedSite site) =>
        Pad(DisplayWidth.CutMiddle(Shown(site.Name), NameColumns), NameColumns)
        + $" {Count(site.Captures),8} {Count(site.Presses),7} {Percent(site.AnsweredShare),8} {Count(site.AnsweredBySome),6} {Count(site.Lost),6} {Count(site.Unknown),6} {Milliseconds(site.LatencyMs),8} {Percent(site.HeardShare),5}";

    private static string Shown(string name) => SafeText.Strip(name, 1000) is { Length: > 0 } shown ? shown : Unknown;

    private static string Pad(string text, int columns) => text + new string(' ', Math.Max(0, columns - DisplayWidth.Of(text)));

    private static string Count(long count) => count.ToString(CultureInfo.InvariantCulture);

    private static string Percent(double? share) => share is { } known ? (100 * known).ToString("0", CultureInfo.InvariantCulture) + " %" : Unknown;

    private static string Milliseconds(double? ms) => ms is { } known ? known.ToString("0", CultureInfo.InvariantCulture) + " ms" : Unknown;

    private static void Wrap(TextWriter output, string words)
    {
        int column = 0;
        foreach (string word in words.Split(' '))
        {
            int width = DisplayWidth.Of(word);
            if (column > 0 && column + 1 + width > Columns)
            {
                output.WriteLine();
                column = 0;
            }
            output.Write(column > 0 ? " " + word : word);
            column += (column > 0 ? 1 : 0) + width;
        }
        output.WriteLine();
    }
}
