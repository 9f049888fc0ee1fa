using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Words;

/// <summary>Each press in one line with its fate.</summary>
internal static class PressSection
{
    private const int Clock = 8, Mark = 4, WidestAsks = 16, NarrowestName = 6, WidestPlainDetail = 18;

    /// <summary>Columns between the columns: before and after the time, between the names, after DST, after what was asked, after the mark.</summary>
    private const int Gaps = 2 + 2 + 3 + 2 + 2 + 1;

    public static void Write(Paper paper, Account account)
    {
        IReadOnlyList<Press> presses = account.History.Presses;
        if (presses.Count == 0)
            return;
        paper.Heading($"Presses, in the order of time (UTC): {Phrases.Number(presses.Count)}");

        int asks = Math.Clamp(presses.Max(press => DisplayWidth.Of(press.Asks)), 2, WidestAsks);
        string[] details = new string[presses.Count];
        for (int row = 0; row < details.Length; row++)
            details[row] = DetailOf(presses[row]);
        int plain = Math.Clamp(details.Max(DisplayWidth.Of), 1, WidestPlainDetail);
        int names = Math.Max(2 * NarrowestName, paper.Columns - Clock - Mark - Gaps - asks - plain);
        MeshAddress[] pressers = [.. presses.Select(press => press.Src).Distinct()], pressed = [.. presses.Select(press => press.Dst).Distinct()];
        (int from, int to) = Share(names, pressers.Max(address => DisplayWidth.Of(account.Names.Short(address))), pressed.Max(address => DisplayWidth.Of(account.Names.Short(address))));
        int detail = Math.Max(plain, paper.Columns - Clock - Mark - Gaps - asks - from - to);

        Dictionary<MeshAddress, string> sources = Shown(account, pressers, from), destinations = Shown(account, pressed, to);
        long? day = null;
        for (int row = 0; row < presses.Count; row++)
        {
            Press press = presses[row];
            if (Phrases.DayNumber(press.TimeNs) is { } today && today != day)
            {
                day = today;
                paper.Line(new Cell("  " + Phrases.Day(press.TimeNs), Tone.Quiet));
            }
            Tone tone = ToneOf(press.Outcome);
            paper.Line(
                new Cell("  " + Phrases.Clock(press.TimeNs) + "  "),
                new Cell(DisplayWidth.Fit(sources[press.Src], from)), new Cell(" > "),
                new Cell(DisplayWidth.Fit(destinations[press.Dst], to) + "  "),
                new Cell(DisplayWidth.Fit(press.Asks, asks) + "  "),
                new Cell(DisplayWidth.Fit(MarkOf(press.Outcome), Mark), tone),
                new Cell(" " + DetailOf(press, details[row], account, detail)));
        }
        WriteLegend(paper, presses);
    }

    /// <summary>The fate in a word that needs no colour.</summary>
    public static string MarkOf(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => "OK",
        PressOutcome.Some => "PART",
        PressOutcome.None => "NONE",
        _ => "?",
    };

    public static Tone ToneOf(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => Tone.Good,
        PressOutcome.Some => Tone.Mixed,
        PressOutcome.None => Tone.Bad,
        _ => Tone.Quiet,
    };

    /// <summary>Names cut to a column, so that two of them never look the same.</summary>
    private static Dictionary<MeshAddress, string> Shown(Account account, IEnumerable<MeshAddress> addresses, int columns)
    {
        var shown = new Dictionary<MeshAddress, string>();
        foreach (IGrouping<string, MeshAddress> alike in addresses.GroupBy(address => DisplayWidth.Cut(account.Names.Short(address), columns)))
        {
            bool ambiguous = alike.Select(account.Names.Short).Distinct().Count() > 1;
            foreach (MeshAddress address in alike)
                shown[address] = ambiguous ? DisplayWidth.CutMiddle(account.Names.Short(address), columns) : alike.Key;
        }
        return shown;
    }

    /// <summary>Shares columns between two names: each gets what it needs while the other can spare it.</summary>
    private static (int First, int Second) Share(int columns, int first, int second)
    {
        first = Math.Max(first, NarrowestName);
        second = Math.Max(second, NarrowestName);
        if (first + second <= columns)
            return (first, second);
        int half = columns / 2;
        return second <= half ? (columns - second, second) : first <= half ? (first, columns - first) : (half, columns - half);
    }

    /// <summary>How many answered and how fast, and the names of the silent ones where there is room for them.</summary>
    public static string DetailOf(Press press, Account account, int columns) => DetailOf(press, DetailOf(press), account, columns);

    private static string DetailOf(Press press, string detail, Account account, int columns)
    {
        if (press.Outcome == PressOutcome.Some && MayFit(press, detail, account, columns) && WithNames(press, detail, account) is var withNames && DisplayWidth.Of(withNames) <= columns)
            return withNames;
        return DisplayWidth.Cut(detail, columns);
    }

    /// <summary>False if the names of the silent ones take more columns for certain: so much is told by the plain ones among them, and mostly by the first few.</summary>
    private static bool MayFit(Press press, string detail, Account account, int columns)
    {
        int room = columns - DisplayWidth.Of(detail);
        for (int at = 0; at < press.Expected?.Count && room >= 0; at++)
        {
            MeshAddress element = press.Expected[at];
            if (!Answered(press, element) && account.Names.Short(element) is var name && DisplayWidth.IsPlain(name))
                room -= name.Length + 2;
        }
        return room >= 0;
    }

    private static string WithNames(Press press, string detail, Account account)
    {
        var words = new DefaultInterpolatedStringHandler(0, 0, null, stackalloc char[Paper.WidestColumns]);
        words.AppendLiteral(detail);
        words.AppendLiteral("; not ");
        bool first = true;
        for (int at = 0; at < press.Expected?.Count; at++)
        {
            if (Answered(press, press.Expected[at]))
                continue;
            if (!first)
                words.AppendLiteral(", ");
            words.AppendLiteral(account.Names.Short(press.Expected[at]));
            first = false;
        }
        return words.ToStringAndClear();
    }

    /// <summary>How many answered and how fast, or why nobody can know.</summary>
    public static string DetailOf(Press press)
    {
        string latency = press.LatencyMs is { } ms && press.Answers.Count > 0 ? ", " + Phrases.Duration(ms) : "";
        if (press.Expected is not { } expected)
            return press.Answers.Count > 0 ? $"{AnsweredOf(press)} answered{latency}" : press.Acknowledged ? "no answer heard" : "no answer asked";
        if (expected.Count == 0)
            return "nobody listens";
        int answered = AnsweredOf(press);
        if (answered == 0 && press.Outcome == PressOutcome.Unknown)
            return press.Acknowledged ? $"0 of {expected.Count} heard" : "no answer asked";
        return $"{answered} of {expected.Count}{latency}";
    }

    /// <summary>Of those that should act, how many answered.</summary>
    public static int AnsweredOf(Press press)
    {
        if (press.Expected is not { } expected)
            return press.Answers.Select(answer => answer.Element).Distinct().Count();
        int answered = 0;
        for (int at = 0; at < expected.Count; at++)
            answered += Answered(press, expected[at]) ? 1 : 0;
        return answered;
    }

    /// <summary>Those that should act and were not heard to answer.</summary>
    public static IEnumerable<MeshAddress> SilentOf(Press press) => press.Expected?.Where(element => !Answered(press, element)) ?? [];

    private static bool Answered(Press press, MeshAddress element)
    {
        foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
            if (answer.Element == element)
                return true;
        return false;
    }

    private static void WriteLegend(Paper paper, IReadOnlyList<Press> presses)
    {
        foreach (PressOutcome outcome in (ReadOnlySpan<PressOutcome>)[PressOutcome.All, PressOutcome.Some, PressOutcome.None, PressOutcome.Unknown])
        {
            if (presses.Any(press => press.Outcome == outcome))
                paper.Paragraph(Meaning(outcome), $"  {MarkOf(outcome),-5}", Tone.Quiet, Tone.Quiet);
        }
    }

    /// <summary>What the mark means, for a legend.</summary>
    public static string Meaning(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => "everyone who should act answered; the time runs from the press to the last answer",
        PressOutcome.Some => "some answered; no answer was heard from the others",
        PressOutcome.None => "nobody was heard to answer, and it is unlikely (under 5 %) that the receiver missed every answer: lost, or not reported back",
        _ => "cannot be told: no answer was asked for, nobody knows who should act, or the receiver may have missed the answer. Not heard does not mean not sent",
    };
}
