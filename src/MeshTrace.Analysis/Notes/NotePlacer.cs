using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Notes;

/// <summary>
/// Places notes on the timeline and looks whether a noted press was on the air. Clocks of people are off: where notes meet presses of their nodes with one
/// common shift better than chance explains, that shift is used for all.
/// </summary>
internal sealed class NotePlacer
{
    /// <summary>A press counts for a note within this time before and after it (common practice, no source).</summary>
    public const long WindowNs = 2_000_000_000;

    /// <summary>A clock may be off by so much, beside whole quarters of an hour of a time zone (ours).</summary>
    private const long MostDriftNs = 120_000_000_000;

    private const long QuarterNs = 900_000_000_000;

    /// <summary>Time zones reach from -12 to +14 hours.</summary>
    private const long MostZoneNs = 56 * QuarterNs;

    /// <summary>
    /// A shift is believed where chance would bring as many notes together in fewer than so many cases, all shifts tried taken together (ours): a wrong
    /// shift would explain a lost press away.
    /// </summary>
    private const double MostChance = 0.01;

    /// <summary>Notes and presses looked at for a shift, at most: keeps the work small.</summary>
    private const int MostCompared = 100;

    private readonly CaptureHistory _history;
    private readonly IReadOnlyList<FieldNote> _notes;
    private readonly Dictionary<ushort, List<int>> _presses = [];

    public NotePlacer(CaptureHistory history, IReadOnlyList<FieldNote> notes)
    {
        _history = history;
        _notes = notes;
        for (int row = 0; row < history.Presses.Count && notes.Count > 0; row++)
        {
            if (history.Presses[row].TimeNs == CapturedFrame.NoTime)
                continue;
            ushort node = history.Directory.NodeOf(history.Presses[row].Src).Value;
            if (!_presses.TryGetValue(node, out List<int>? presses))
                _presses.Add(node, presses = []);
            presses.Add(row);
        }
        foreach (List<int> presses in _presses.Values)
            presses.Sort((left, right) => history.Presses[left].TimeNs.CompareTo(history.Presses[right].TimeNs));
    }

    public FieldNotes Run()
    {
        if (_notes.Count == 0)
            return FieldNotes.None;
        var nodes = new MeshAddress?[_notes.Count];
        long?[] times = new long?[_notes.Count];
        for (int i = 0; i < _notes.Count; i++)
        {
            nodes[i] = _history.NodeNamed(_notes[i].Where);
            times[i] = _history.TimeOf(_notes[i].Time);
        }
        long shift = FindShift(nodes, times);
        var placed = new List<PlacedNote>(_notes.Count);
        for (int i = 0; i < _notes.Count; i++)
            placed.Add(new PlacedNote { Note = _notes[i], Node = nodes[i], TimeNs = times[i] + shift });
        Look(placed);
        return new FieldNotes(placed, shift);
    }

    /// <summary>The shift with which most noted presses meet a press of their node; none where the notes fit as well as they stand.</summary>
    private long FindShift(MeshAddress?[] nodes, long?[] times)
    {
        int[] pressed = [.. Enumerable.Range(0, _notes.Count)
            .Where(i => _notes[i].IsPress && times[i] is not null && nodes[i] is { } node && _presses.ContainsKey(node.Value)).Take(MostCompared)];
        int unshifted = Fitting(0), best = unshifted, tries = 0;
        long shift = 0;
        foreach (int i in pressed)
        {
            foreach (int press in _presses[nodes[i]!.Value.Value].Take(MostCompared))
            {
                long tried = _history.Presses[press].TimeNs - times[i]!.Value;
                if (Math.Abs(tried) > MostZoneNs || Drift(tried) > MostDriftNs)
                    continue;
                tries++;
                int fitting = Fitting(tried);
                bool simpler = (Drift(tried), Math.Abs(tried)).CompareTo((Drift(shift), Math.Abs(shift))) < 0;
                if (fitting > best || (fitting == best && best > unshifted && simpler))
                    (best, shift) = (fitting, tried);
            }
        }
        return best > unshifted && tries * Chance(best) < MostChance ? shift : 0;

        // One note was laid on a press; the chance that so many of the others meet one too, each with that of a time taken at random.
        double Chance(int fitting)
        {
            double one = 0, chance = 1;
            (long first, long last) = _history.TimeSpanNs!.Value;
            foreach (int i in pressed)
                one = Math.Max(one, _presses[nodes[i]!.Value.Value].Count * ((2.0 * WindowNs) + _notes[i].Time.PrecisionNs) / Math.Max(last - first, 1));
            for (int k = 1; k < fitting; k++)
                chance *= Math.Min(one, 1) * (pressed.Length - k) / k;
            return chance;
        }

        int Fitting(long tried)
        {
            int fitting = 0;
            foreach (int i in pressed)
                fitting += PressNear(nodes[i]!.Value, times[i]!.Value + tried, _notes[i].Time.PrecisionNs) is null ? 0 : 1;
            return fitting;
        }
    }

    /// <summary>What is left of a shift beside whole quarters of an hour.</summary>
    private static long Drift(long shiftNs) => Math.Min(Math.Abs(shiftNs % QuarterNs), QuarterNs - Math.Abs(shiftNs % QuarterNs));

    private int? PressNear(MeshAddress node, long timeNs, long precisionNs)
    {
        if (!_presses.TryGetValue(node.Value, out List<int>? presses))
            return null;
        int low = 0, high = presses.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_history.Presses[presses[middle]].TimeNs < timeNs - WindowNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low < presses.Count && _history.Presses[presses[low]].TimeNs <= timeNs + precisionNs + WindowNs ? presses[low] : null;
    }

    private void Look(List<PlacedNote> notes)
    {
        var numbers = new SequenceNeighbours(_history, notes.Where(note => note is { Node: not null, Note.IsPress: true }).Select(note => note.Node!.Value));
        foreach (PlacedNote note in notes)
            if (note is { Node: { } node, Note.IsPress: true })
                Judge(note, node, numbers);
    }

    private void Judge(PlacedNote note, MeshAddress node, SequenceNeighbours numbers)
    {
        note.Outcome = NoteOutcome.OutsideCapture;
        if (note.TimeNs is not { } time || _history.TimeSpanNs is not { } span)
            return;
        long from = time - WindowNs, to = time + note.Note.Time.PrecisionNs + WindowNs;
        note.Press = PressNear(node, time, note.Note.Time.PrecisionNs);
        (note.FloodBefore, note.FloodAfter, bool within) = numbers.Around(node, from, to);
        if (note.Press is not null || within)
            note.Outcome = NoteOutcome.Heard;
        else if (from >= span.First && to <= span.Last)
            note.Outcome = NoteOutcome.NothingHeard;
        note.NumbersUnheard = note.FloodBefore is null || note.FloodAfter is null ? null : numbers.UnheardOfNode(node, from, to);
    }
}
