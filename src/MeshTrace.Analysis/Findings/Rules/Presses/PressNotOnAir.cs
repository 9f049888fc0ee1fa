using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Notes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>Somebody noted a press, and not one PDU of that panel was heard around it.</summary>
internal sealed class PressNotOnAir : IFindingRule
{
    /// <summary>PDUs that overtake each other are not so far apart in their numbers (ours).</summary>
    private const uint Overtaking = 32;

    public string Id => "press-not-on-air";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        IReadOnlyList<PlacedNote> notes = history.Notes.Notes;
        var unheard = Enumerable.Range(0, notes.Count).Where(row => notes[row] is { Outcome: NoteOutcome.NothingHeard, Node: not null, TimeNs: not null });
        foreach (var panel in unheard.GroupBy(row => notes[row].Node!.Value))
            Judge(history, findings, panel.Key, [.. panel]);
    }

    private void Judge(CaptureHistory history, FindingSink findings, MeshAddress panel, int[] rows)
    {
        IReadOnlyList<PlacedNote> notes = history.Notes.Notes;
        int[] proven = [.. rows.Where(row => notes[row].NumbersUnheard == 0)];
        int[] told = proven.Length > 0 ? proven : NumbersFall(history, panel) ? [] : [.. rows.Where(row => notes[row].NumbersUnheard is null && !IsDeaf(history, notes[row])
            && (history.HeardShares?.CountOf(panel) is null || Chance(history, findings, notes[row]) < Weighing.PossibleBelow))];
        if (told.Length == 0)
        {
            findings.Weighing.Judge(Id, panel, 1.0);        // something was sent that nobody heard, the receivers were deaf, or its numbers fell
            return;
        }
        Confidence confidence = proven.Length > 0 || told.Min(row => Chance(history, findings, notes[row])) < Weighing.LikelyBelow ? Confidence.Likely : Confidence.Possible;
        string heard = history.HeardShares?.FloodIntervalOf(panel) is { } share ? $"{Wording.Percent(share.Share)} of what it sends is heard" : "how well it is heard is not known";
        string proof = proven.Length > 0 ? "its sequence numbers before and after follow each other, so it sent nothing" : "no sequence numbers before and after prove it: the receiver may be deaf to this panel";
        var evidence = new List<Evidence>();
        foreach (int row in told)
        {
            evidence.Add(new Evidence("note", row));
            if (notes[row].FloodBefore is { } before)
                evidence.Add(new Evidence("flood", before));
            if (notes[row].FloodAfter is { } after)
                evidence.Add(new Evidence("flood", after));
        }
        string times = told.Length == 1 ? "a noted press" : $"{told.Length} noted presses";
        findings.Add(Id, confidence, notes[told[0]].TimeNs!.Value, panel, null,
            $"Of {times} of {findings.Words.Name(panel)} nothing reached the air within {NotePlacer.WindowNs / 1_000_000_000} s ({heard}; {proof}).", [.. evidence.Distinct()]);
    }

    /// <summary>An element of the panel went back in its numbers, or two nodes use its address: how much of it was heard is not known then.</summary>
    private static bool NumbersFall(CaptureHistory history, MeshAddress panel)
    {
        var highest = new Dictionary<(MeshAddress Src, uint IvIndex), uint>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || history.Directory.NodeOf(flood.Src) != panel)
                continue;
            uint before = highest.GetValueOrDefault((flood.Src, flood.IvIndex));
            if (flood.Seq + Overtaking < before)
                return true;
            highest[(flood.Src, flood.IvIndex)] = Math.Max(before, flood.Seq);
        }
        return false;
    }

    private static bool IsDeaf(CaptureHistory history, PlacedNote note) => note.TimeNs is not { } time
        || history.Deafness.DeafShareOf(time - NotePlacer.WindowNs, time + note.Note.Time.PrecisionNs + NotePlacer.WindowNs) > 0;

    private static double Chance(CaptureHistory history, FindingSink findings, PlacedNote note)
    {
        if (note.TimeNs is not { } time || note.Node is not { } node || history.HeardShares is null)
            return 1;
        return findings.Weighing.MissChance(node, 1, time - NotePlacer.WindowNs, time + note.Note.Time.PrecisionNs + NotePlacer.WindowNs);
    }
}
