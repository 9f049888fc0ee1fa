using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Words;

/// <summary>Each press in one line with its fate.</summary>
internal static class PressSection
{
    private const int Clock = 8, Mark = 4, Detail = 17, Gaps = 2 + 2 + 3 + 2 + 2 + 1, NarrowestName = 6;

    public static void Write(Paper paper, Account account)
    {
        IReadOnlyList<Press> presses = account.History.Presses;
        if (presses.Count == 0)
            return;
        paper.Heading($"Presses, in the order of time (UTC): {Phrases.Number(presses.Count)}");

        int asks = Math.Clamp(presses.Max(press => DisplayWidth.Of(Asks(press))), 2, 14);
        int names = paper.Columns - Clock - Mark - Detail - Gaps - asks;
        int from = Math.Clamp(presses.Max(press => DisplayWidth.Of(account.Names.Short(press.Src))), NarrowestName, Math.Max(NarrowestName, names));
        int to = Math.Clamp(presses.Max(press => DisplayWidth.Of(account.Names.Short(press.Dst))), NarrowestName, Math.Max(NarrowestName, names));
        if (from + to > names)      // share what there is; the shorter column keeps all it needs
        {
            int half = names / 2;
            (from, to) = from < half ? (from, names - from) : to < half ? (names - to, to) : (half, names - half);
            from = Math.Max(NarrowestName, from);
            to = Math.Max(NarrowestName, to);
        }
        int detail = Math.Max(Detail, paper.Columns - Clock - Mark - Gaps - asks - from - to);

        string? day = null;
        foreach (Press press in presses)
        {
            if (Phrases.Day(press.TimeNs) is { } today && today != day)
                paper.Line(new Cell("  " + (day = today), Tone.Quiet));
            Tone tone = ToneOf(press.Outcome);
            paper.Line(
                new Cell("  " + Phrases.Clock(press.TimeNs) + "  "),
                new Cell(DisplayWidth.Fit(account.Names.Short(press.Src), from)), new Cell(" > "),
                new Cell(DisplayWidth.Fit(account.Names.Short(press.Dst), to) + "  "),
                new Cell(DisplayWidth.Fit(Asks(press), asks) + "  "),
                new Cell(DisplayWidth.Fit(MarkOf(press.Outcome), Mark), tone),
                new Cell(" " + DisplayWidth.Cut(DetailOf(press, account), detail)));
        }
        WriteLegend(paper, presses);
    }

    /// <summary>The fate in a word that needs no colour.</summary>
    public static string MarkOf(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => "OK",
        PressOutcome.Some => "PART",
        PressOutcome.None => "LOST",
        _ => "?",
    };

    private static Tone ToneOf(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => Tone.Good,
        PressOutcome.Some => Tone.Mixed,
        PressOutcome.None => Tone.Bad,
        _ => Tone.Quiet,
    };

    private static string Asks(Press press) => press.Asks;

    private static string DetailOf(Press press, Account account)
    {
        string latency = press.LatencyMs is { } ms && press.Answers.Count > 0 ? ", " + Phrases.Duration(ms) : "";
        if (press.Expected is not { } expected)
            return press.Answers.Count > 0 ? $"{press.Answers.Count} answered{latency}" : press.Acknowledged ? "no answer heard" : "wants no answer";
        if (expected.Count == 0)
            return "nobody listens";
        int answered = AnsweredOf(press);
        if (answered == 0 && press.Outcome == PressOutcome.Unknown)
            return press.Acknowledged ? $"0 of {expected.Count} heard" : "wants no answer";
        string detail = $"{answered} of {expected.Count}{latency}";
        List<string> silent = SilentOf(press).Select(account.Names.Short).ToList();
        return silent.Count is 0 or > 3 || answered == 0 ? detail : $"{detail}; not {string.Join(", ", silent)}";
    }

    /// <summary>Of those that should act, how many answered.</summary>
    public static int AnsweredOf(Press press) => press.Expected?.Count(element => Answered(press, element)) ?? press.Answers.Count;

    /// <summary>Those that should act and were not heard to answer.</summary>
    public static IEnumerable<MeshAddress> SilentOf(Press press) => press.Expected?.Where(element => !Answered(press, element)) ?? [];

    private static bool Answered(Press press, MeshAddress element) => press.Answers.Exists(answer => answer.Element == element);

    private static void WriteLegend(Paper paper, IReadOnlyList<Press> presses)
    {
        foreach (PressOutcome outcome in (ReadOnlySpan<PressOutcome>)[PressOutcome.All, PressOutcome.Some, PressOutcome.None, PressOutcome.Unknown])
        {
            if (presses.Any(press => press.Outcome == outcome))
                paper.Paragraph(Meaning(outcome), $"  {MarkOf(outcome),-5}", Tone.Quiet, Tone.Quiet);
        }
    }

    private static string Meaning(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => "everyone who should act answered; the time runs from the press to the last answer",
        PressOutcome.Some => "some answered; no answer was heard from the others",
        PressOutcome.None => "nobody was heard to answer, and it is unlikely (under 5 %) that the receiver missed every answer",
        _ => "cannot be told: no answer was asked for, or the receiver may have missed it. Not heard does not mean not sent",
    };
}
