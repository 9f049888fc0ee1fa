using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Presses;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>Presses and fates: a row a press. Where there are too many, those that say most stay.</summary>
internal static class PressPart
{
    /// <summary>More rows nobody reads; the records hold all.</summary>
    public const int MostRows = 1000;
    private const int MostSilent = 6, MostFindings = 4;

    public static void Write(PageDraft draft)
    {
        IReadOnlyList<Press> presses = draft.History.Presses;
        if (presses.Count == 0)
        {
            draft.Says("No press was heard.");
            return;
        }
        draft.Says(GlanceSection.Presses(presses));
        List<int> shown = Chosen(presses);
        bool oneDay = Phrases.Day(presses[0].TimeNs) == Phrases.Day(presses[^1].TimeNs);
        string day = oneDay && Phrases.Day(presses[0].TimeNs) is { } date ? $" of {date}" : "";
        using (var grid = new Grid(draft.Markup, $"Presses{day}, times in UTC", new Column("No.", true), "Time", "Fate", "From", "To", "Asked for", "Answered", "Not heard to answer", "Findings"))
        {
            foreach (int row in shown)
                WriteRow(draft, grid, row, oneDay);
        }
        draft.LeftOut(presses.Count - shown.Count, "presses", "those answered by all first, then those that cannot be told; 'meshtrace records --only press' gives all");
        WriteLegend(draft.Markup, presses);
    }

    /// <summary>Rows to show, in order of time: lost ones before those that cannot be told, and these before those that all is well with.</summary>
    internal static List<int> Chosen(IReadOnlyList<Press> presses) => presses.Count <= MostRows ? [.. Enumerable.Range(0, presses.Count)]
        : [.. Enumerable.Range(0, presses.Count).OrderBy(row => Rank(presses[row].Outcome)).Take(MostRows).Order()];

    /// <summary>0 for the worst.</summary>
    internal static int Rank(PressOutcome outcome) => outcome switch
    {
        PressOutcome.None => 0,
        PressOutcome.Some => 1,
        PressOutcome.Unknown => 2,
        _ => 3,
    };

    private static void WriteRow(PageDraft draft, Grid grid, int row, bool oneDay)
    {
        if (row % 100 == 0)
            draft.Stop.ThrowIfCancellationRequested();
        Press press = draft.History.Presses[row];
        string time = oneDay ? Phrases.Clock(press.TimeNs) : $"{Phrases.Day(press.TimeNs)} {Phrases.Clock(press.TimeNs)}";
        string silent = Phrases.List([.. PressSection.SilentOf(press).Select(draft.Name)], MostSilent);
        // The fate stands where a phone shows it without scrolling.
        grid.Row(Phrases.Number(row + 1), time, new GridCell(PressSection.MarkOf(press.Outcome), PressSection.ToneOf(press.Outcome)), draft.Name(press.Src), draft.Name(press.Dst), press.Asks,
            PressSection.DetailOf(press), silent,
            Phrases.List([.. press.Findings.Select(at => draft.History.Findings[at]).OrderByDescending(finding => finding.Severity).Select(Says).Distinct()], MostFindings));
    }

    private static string Says(Finding finding) => $"{finding.Id}: {FindingWords.Severity(finding)}";

    private static void WriteLegend(Markup markup, IReadOnlyList<Press> presses)
    {
        markup.Open("dl", ("class", "legend"));
        foreach (PressOutcome outcome in (ReadOnlySpan<PressOutcome>)[PressOutcome.All, PressOutcome.Some, PressOutcome.None, PressOutcome.Unknown])
        {
            if (!presses.Any(press => press.Outcome == outcome))
                continue;
            markup.Open("div").Element("dt", PressSection.MarkOf(outcome), ("class", Prose.ClassOf(PressSection.ToneOf(outcome))))
                .Element("dd", PressSection.Meaning(outcome)).Close();
        }
        markup.Close();
    }
}
