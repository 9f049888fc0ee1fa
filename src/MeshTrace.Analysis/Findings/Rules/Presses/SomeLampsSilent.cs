using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>
/// Of the lamps of a group some answer and some do not. One that is absent again and again points to itself; a different one each time points to the
/// radio. Elements whose silence another finding explains are left out.
/// </summary>
internal sealed class SomeLampsSilent : IFindingRule
{
    /// <summary>So many presses in a row make a steady absentee, or nearly all of at least two (ours).</summary>
    private const int Run = 3, Least = 2;
    private const double NearlyAll = 0.8;

    /// <summary>A lamp that was never heard at all is told of after so many presses (ours).</summary>
    private const int EnoughOfUnheard = 5;

    public string Id => "some-lamps-silent";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var changing = new List<Silence>();
        List<List<Silence>> elements = ByElement(history, findings);
        foreach (List<Silence> element in elements)
            if (!TellSteady(history, findings, element, elements.Count))
                changing.AddRange(element);
        foreach (var group in changing.GroupBy(silence => history.Presses[silence.Press].Dst))
            TellChanging(history, findings, group.Key, [.. group]);
    }

    /// <summary>Silences that nothing else explains while others answered, in order; the elements in the order in which they first stayed silent.</summary>
    private static List<List<Silence>> ByElement(CaptureHistory history, FindingSink findings)
    {
        var elements = new List<List<Silence>>();
        var silences = new AddressMap<List<Silence>>();
        int row = -1;
        bool some = false;
        foreach (Silence silence in findings.Silences.All)
        {
            if (silence.Press != row)
            {
                row = silence.Press;
                some = history.Presses[row].Answers.Count > 0 && !history.Presses[row].Dst.IsUnicast;
            }
            if (!some || !silence.Owed || findings.Explains(row, silence.View.Node))
                continue;
            if (!silences.TryGetValue(silence.Element, out List<Silence> own))
            {
                OwedAnswers owed = findings.Silences.OwedBy(silence.Element);
                silences.TryAdd(silence.Element, own = new List<Silence>(owed.Count - owed.Heard));
                elements.Add(own);
            }
            own.Add(silence);
        }
        return elements;
    }

    /// <summary>Tells of an element that is absent again and again.</summary>
    /// <returns>False if it is not, or if that may be chance.</returns>
    private bool TellSteady(CaptureHistory history, FindingSink findings, List<Silence> element, int elements)
    {
        OwedAnswers owed = findings.Silences.OwedBy(element[0].Element);
        List<Silence> run = LongestRun(element);
        bool steady = (element.Count >= Least && element.Count >= NearlyAll * owed.Count) || run.Count >= Run;
        if (!steady)
            return false;
        (IReadOnlyList<Silence> told, double chance, bool byOrder) = LeastLikely(findings, element, run, owed, elements);
        bool proven = told.Any(silence => silence.NothingSent), unheard = told.Any(silence => silence.NeverHeard);
        if (unheard && told.Count < EnoughOfUnheard)
            return false;
        int? numbers = null;
        if (Weighing.Of(chance) is null && run.Count >= Run && findings.Silences.NumbersTooFew(run) is { } few)
            (told, chance, numbers, byOrder) = (run, SilentElements.NothingSentChance, few, false);
        if (Weighing.Of(chance) is not { } confidence)
            return false;
        Silence first = told[0];
        string groups = findings.Words.Names(told.Select(silence => history.Presses[silence.Press].Dst));
        string times = told.Count == owed.Count ? $"any of {owed.Count} presses" : run.Count == told.Count ? $"{told.Count} presses in a row, of {owed.Count}," : $"{told.Count} of {owed.Count} presses";
        string proof = numbers is { } used ? $"in that time it used {FindingWords.Count(used, "sequence number")} of which nothing was heard, fewer than the answers due"
            : byOrder ? $"its answers before and after were heard; chance that just these were missed: {Wording.Percent(chance)}"
            : proven ? "its sequence numbers tell that it sent nothing" : unheard ? "nothing else was heard of it in this capture either, while the others are heard well"
            : $"chance of having missed that: {Wording.Percent(chance)}";
        if (unheard || !history.Presses[first.Press].Acknowledged || 2 * numbers > told.Count || byOrder)
            confidence = Confidence.Possible;
        findings.AddOver(Id, confidence, history.Presses[first.Press].TimeNs, first.View.Node, FindingWords.PressesOf(told),
            $"{findings.Words.Name(first.Element)} did not answer {times} to {groups} while others did ({proof}); {FindingWords.Why(first.View)}.",
            FindingWords.EvidenceOf(told), "It is always the same one: look at its power, its distance to the next relay, and its key and subscription.");
        return true;
    }

    private void TellChanging(CaptureHistory history, FindingSink findings, MeshAddress dst, Silence[] silences)
    {
        Silence[] proven = [.. silences.Where(silence => silence.NothingSent)];
        Confidence? judged;
        IReadOnlyList<Silence> told;
        string proof;
        if (proven.Length > 0)
            (judged, told, proof) = (Confidence.Likely, proven, "the sequence numbers tell that nothing was sent");
        else
        {
            MeshAddress[] elements = [.. silences.Select(silence => silence.Element).Distinct()];
            int owed = elements.Sum(element => findings.Silences.OwedTo(dst, element));
            double chance = SilenceChance.OfSoMany(silences.Length, owed, silences.Average(silence => silence.MissChance));
            int presses = silences.Select(silence => silence.Press).Distinct().Count();
            judged = findings.Weighing.Judge(Id, silences[0].View.Node, presses > 1 ? chance : 1, silences[0].Press);
            (told, proof) = (silences, $"chance of having missed so many: {Wording.Percent(chance)}");
        }
        if (judged is not { } confidence)
            return;
        if (!told.Any(silence => history.Presses[silence.Press].Acknowledged))
            confidence = Confidence.Possible;
        MeshAddress[] lamps = [.. told.Select(silence => silence.Element).Distinct()];
        MeshAddress[] nodes = [.. told.Select(silence => silence.View.Node).Distinct()];
        List<int> rows = FindingWords.PressesOf(told);
        string who = lamps.Length == 1 ? findings.Words.Name(lamps[0]) : rows.Count == 1 ? findings.Words.Names(lamps) : $"now one, now another of {FindingWords.Count(lamps.Length, "lamp")}, {findings.Words.Names(lamps)},";
        string remedy = lamps.Length == 1 ? "It happened now and then only: raise Network Transmit count and interval of the sender and of the relays, and look at its distance."
            : rows.Count == 1 ? "It happened once: look at what else was on the air then; Network Transmit count and interval (3 or more, 50 ms) of the sender and of the relays outlast a short disturbance."
            : "It is a different one each time: raise Network Transmit count and interval (3 or more, 50 ms) of the sender and of the relays.";
        findings.AddOver(Id, confidence, history.Presses[rows[0]].TimeNs, nodes.Length == 1 ? nodes[0] : null, rows,
            $"On {FindingWords.Count(rows.Count, "press", "presses")} to {findings.Words.Name(dst)} {who} stayed silent while others answered ({proof}).",
            FindingWords.EvidenceOf(told), remedy, nodes);
    }

    /// <summary>
    /// All its silences or the longest run of them, whichever is harder to put down to chance: by how well the lamp is heard, or by the order of the answers that
    /// were heard. It is one of many lamps, and each could have come up.
    /// </summary>
    private static (IReadOnlyList<Silence> Told, double Chance, bool ByOrder) LeastLikely(FindingSink findings, List<Silence> element, List<Silence> run, OwedAnswers owed, int elements)
    {
        IReadOnlyList<Silence> told = element.Count >= NearlyAll * owed.Count ? element : run;
        if (told.FirstOrDefault(silence => silence.NothingSent) is not null)
            return (told, told.Aggregate(1.0, (all, silence) => all * silence.MissChance), false);
        double ofRun = SilenceChance.OfRun(run.Count, owed.Count, run.Aggregate(1.0, (all, silence) => all * silence.MissChance));
        double ofAll = element.Count < NearlyAll * owed.Count ? 1 : SilenceChance.OfSoMany(element.Count, owed.Count, element.Average(silence => silence.MissChance));
        double chance = Math.Min(1, elements * Math.Min(ofRun, ofAll));
        double byOrder = Math.Min(1, elements * findings.Silences.ChanceByOrder(run, owed.Heard, owed.Heard + element.Count));
        return Weighing.Of(chance) is null && byOrder < SilenceChance.MostByOrder
            ? (run, byOrder, true)
            : (ofAll <= ofRun ? element : run, chance, false);
    }

    /// <summary>The longest run of silences over presses that follow each other; those of which nobody's answer was heard neither count nor end it.</summary>
    private static List<Silence> LongestRun(List<Silence> element)
    {
        int begin = 0, longestAt = 0, longest = 0;
        for (int at = 0; at < element.Count; at++)
        {
            if (element[at].HeardBefore != element[begin].HeardBefore)
                begin = at;
            if (at + 1 - begin > longest)
                (longestAt, longest) = (begin, at + 1 - begin);
        }
        return element.GetRange(longestAt, longest);
    }
}
