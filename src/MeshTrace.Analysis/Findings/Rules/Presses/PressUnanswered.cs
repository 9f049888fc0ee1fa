using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>A press that owed an answer got none, from nobody, and no other finding tells why.</summary>
internal sealed class PressUnanswered : IFindingRule
{
    /// <summary>So many presses in a row, before their numbers are counted together (ours).</summary>
    private const int EnoughInARow = 3;

    public string Id => "press-unanswered";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var asked = new Dictionary<(MeshAddress Src, MeshAddress Dst), List<int>>();
        for (int row = 0; row < history.Presses.Count; row++)
        {
            var way = (history.Presses[row].Src, history.Presses[row].Dst);
            if (!asked.TryGetValue(way, out List<int>? rows))
                asked.Add(way, rows = []);
            rows.Add(row);
        }
        foreach (var same in Unanswered(history, findings).GroupBy(one => (history.Presses[one.Press].Src, history.Presses[one.Press].Dst)))
            Judge(history, findings, [.. same], asked[same.Key]);
    }

    /// <summary>Presses that nobody answered, with those who owed an answer for no reason that is known.</summary>
    private static List<(int Press, Silence[] Silent)> Unanswered(CaptureHistory history, FindingSink findings)
    {
        var unanswered = new List<(int Press, Silence[] Silent)>();
        foreach ((int press, Range silences) in findings.Silences.Unanswered)
        {
            Silence[] silent = Array.FindAll(findings.Silences.All[silences], silence => silence.Owed && !findings.Explains(press, silence.View.Node));
            if (silent.Length > 0)
                unanswered.Add((press, silent));
        }
        return unanswered;
    }

    /// <param name="history">The capture.</param>
    /// <param name="findings">Where it is told.</param>
    /// <param name="presses">Unanswered, of one source to one address.</param>
    /// <param name="rows">All presses of that source to that address.</param>
    private void Judge(CaptureHistory history, FindingSink findings, (int Press, Silence[] Silent)[] presses, List<int> rows)
    {
        // Each press for itself first: what a thin capture leaves open does not become sure by standing beside what is sure.
        int asked = rows.Count;
        int? numbers = null;
        Press first = history.Presses[presses[0].Press];
        var sure = presses.Where(press => Weighing.Of(ChanceOf(press.Silent, asked)) is not null).ToArray();
        double chance;
        bool byOrder = false;
        if (sure.Length > 0)
        {
            chance = sure.Min(press => ChanceOf(press.Silent, asked));
            first = history.Presses[sure[0].Press];
        }
        else
        {
            (sure, chance) = LeastLikelyRun(presses, rows);
            if (Weighing.Of(chance) is null && ProvenRun(findings, presses, rows) is { } proven)
                (sure, chance, numbers) = (proven.Run, SilentElements.NothingSentChance, proven.Unheard);
            if (Weighing.Of(chance) is null && OutOfOrder(history, findings, presses, rows) is { } unlikely && unlikely.Chance < SilenceChance.MostByOrder)
                (sure, chance, byOrder) = (unlikely.Run, unlikely.Chance, true);
            first = history.Presses[sure[0].Press];
        }
        Silence[] silent = [.. sure.SelectMany(press => press.Silent)];
        MeshAddress[] nodes = [.. silent.Select(silence => silence.View.Node).Distinct()];
        if (findings.Weighing.Judge(Id, nodes[0], chance, sure[0].Press) is not { } confidence)
            return;
        if (!first.Acknowledged || silent.All(silence => silence.NeverHeard) || 2 * numbers > sure.Length || byOrder)
            confidence = Confidence.Possible;       // what it would have told rests on its last state heard, or on how others are heard
        MeshAddress[] elements = [.. silent.Select(silence => silence.Element).Distinct()];
        string times = sure.Length == 1 ? $"A press of {findings.Words.Name(first.Src)}, {findings.Words.Ask(first)}," : $"{sure.Length} presses of {findings.Words.Name(first.Src)} to {findings.Words.Name(first.Dst)}";
        string again = sure.Max(press => history.Presses[press.Press].Messages.Count) is > 1 and var most ? $" although asked up to {most} times" : "";
        string proof = silent.All(silence => silence.NothingSent) ? "the sequence numbers tell that nothing was sent"
            : numbers is { } unheard ? $"in that time it used {FindingWords.Count(unheard, "sequence number")} of which nothing was heard, fewer than the answers due"
            : byOrder ? $"answers to others of its presses were heard; chance that just these were missed: {Wording.Percent(chance)}"
            : $"chance that the answers were only missed: {Wording.Percent(chance)}";
        string why = elements.Length == 1 || silent.All(silence => silence.View.Verdict == silent[0].View.Verdict && silence.View.Step == silent[0].View.Step && silence.View.Doubt == silent[0].View.Doubt)
            ? $"; {FindingWords.Why(silent[0].View, elements.Length > 1)}" : "";
        // One remedy where all have one cause; else the general one.
        string? remedy = why.Length > 0 ? FindingWords.RemedyFor(silent[0].View) : null;
        if (nodes.Length > 1 && sure.Length == 1 && silent.All(silence => silence.View.Verdict != EyeVerdict.Rejected) && AnsweredOnBothSides(history, sure[0].Press, rows, elements))
        {
            // Not all of them lost power or reach for one press: what they have in common is the moment, and the sender.
            why = "; all of them answered presses before and after it, so power, distance and configuration are not the reason: at that moment something disturbed the air, or the sender";
            remedy = "Find out what else was on the air at that moment (interference comes in bursts), and look at the sender; a higher Network Transmit count and interval outlast a short disturbance.";
        }
        findings.AddOver(Id, confidence, first.TimeNs, nodes.Length == 1 ? nodes[0] : history.Directory.NodeOf(first.Src), [.. sure.Select(press => press.Press)],
            $"{times} got no answer from {findings.Words.Names(elements)}{again} ({proof}){why}.", FindingWords.EvidenceOf(silent), remedy, nodes);
    }

    /// <summary>Each of the elements answered a press of the same source to the same address before this one, and one after it.</summary>
    private static bool AnsweredOnBothSides(CaptureHistory history, int press, List<int> rows, MeshAddress[] elements)
    {
        int at = rows.IndexOf(press);
        return Array.TrueForAll(elements, element => rows[..at].Exists(row => Answered(row, element)) && rows[(at + 1)..].Exists(row => Answered(row, element)));

        bool Answered(int row, MeshAddress element) => history.Presses[row].Answers.Any(answer => answer.Element == element);
    }

    /// <summary>
    /// Of the presses in a row that got no answer, those of which it is least likely that all their answers were missed. Such a run could have begun at any
    /// press; where not one was answered, there is one run only.
    /// </summary>
    private static ((int Press, Silence[] Silent)[] Run, double Chance) LeastLikelyRun((int Press, Silence[] Silent)[] presses, List<int> rows)
    {
        var byPress = presses.ToDictionary(press => press.Press);
        List<(int Press, Silence[] Silent)> silent = [];
        (int Press, Silence[] Silent)[] best = [presses[0]];
        (int begin, int bestAt, int bestCount) = (0, 0, 0);
        double chance = 1, least = 1;
        foreach (int row in rows)
        {
            if (!byPress.TryGetValue(row, out (int Press, Silence[] Silent) press))
            {
                (begin, chance) = (silent.Count, 1);
                continue;
            }
            silent.Add(press);
            chance *= ChanceOf(press.Silent, 1);
            if (chance < least)
                (bestAt, bestCount, least) = (begin, silent.Count - begin, chance);
        }
        if (bestCount > 0)
            best = [.. silent.GetRange(bestAt, bestCount)];
        return (best, SilenceChance.OfRun(best.Length, rows.Count, least));
    }

    /// <summary>The longest run of presses without an answer, and how likely it is by the order of those that got one; null where there is no run, or not of one element.</summary>
    private static ((int Press, Silence[] Silent)[] Run, double Chance)? OutOfOrder(CaptureHistory history, FindingSink findings, (int Press, Silence[] Silent)[] presses, List<int> rows)
    {
        var byPress = presses.ToDictionary(press => press.Press);
        List<(int Press, Silence[] Silent)> silent = [];
        int heard = 0, begin = 0, longestAt = 0, longest = 0;
        foreach (int row in rows)
        {
            if (byPress.TryGetValue(row, out (int Press, Silence[] Silent) press))
                silent.Add(press);
            else if (history.Presses[row].Answers.Count > 0)
                (begin, heard) = (silent.Count, heard + 1);
            if (silent.Count - begin > longest)
                (longestAt, longest) = (begin, silent.Count - begin);
        }
        List<(int Press, Silence[] Silent)> run = silent.GetRange(longestAt, longest);
        return run.Count < EnoughInARow || run.Exists(press => press.Silent.Length != 1 || press.Silent[0].Element != run[0].Silent[0].Element) ? null
            : ([.. run], findings.Silences.ChanceByOrder([.. run.Select(press => press.Silent[0])], heard, heard + presses.Length));
    }

    /// <summary>
    /// The longest run of presses of which the numbers tell that not all were answered unheard, and at most half of the requests: a server answers each
    /// that it receives.
    /// </summary>
    private static ((int Press, Silence[] Silent)[] Run, int Unheard)? ProvenRun(FindingSink findings, (int Press, Silence[] Silent)[] presses, List<int> rows)
    {
        var byPress = presses.ToDictionary(press => press.Press);
        List<(int Press, Silence[] Silent)> silent = [];
        (int begin, int longestAt, int count) = (0, 0, 0);
        foreach (int row in rows)
        {
            if (byPress.TryGetValue(row, out (int Press, Silence[] Silent) press) && press.Silent is [var only] && (silent.Count == begin || silent[begin].Silent[0].Element == only.Element))
                silent.Add(press);
            else
                begin = silent.Count;
            if (silent.Count - begin > count)
                (longestAt, count) = (begin, silent.Count - begin);
        }
        (int Press, Silence[] Silent)[] longest = [.. silent.GetRange(longestAt, count)];
        return longest.Length >= EnoughInARow && findings.Silences.NumbersTooFew([.. longest.Select(press => press.Silent[0])]) is { } unheard ? (longest, unheard) : null;
    }

    /// <summary>Chance that the answers were missed; where no number proves it, one press of so many could have come up so by chance.</summary>
    private static double ChanceOf(Silence[] silent, int asked) =>
        Math.Min(1, silent.Aggregate(1.0, (all, silence) => all * silence.MissChance) * (silent.Any(silence => silence.NothingSent) ? 1 : asked));
}
