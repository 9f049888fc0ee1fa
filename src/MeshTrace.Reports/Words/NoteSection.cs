using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Notes;

namespace MeshTrace.Reports.Words;

/// <summary>Notes from the field, each with what the capture tells of that moment.</summary>
internal static class NoteSection
{
    private const int MostNotes = 40;

    public static void Write(Paper paper, Account account)
    {
        FieldNotes notes = account.History.Notes;
        if (notes.Notes.Count == 0)
            return;
        paper.Heading($"Notes from the field: {Phrases.Number(notes.Notes.Count)}");
        foreach (PlacedNote note in notes.Notes.Take(MostNotes))
            paper.Paragraph($"{DisplayWidth.Isolate(Where(note))}, \"{DisplayWidth.Isolate(SafeText.Strip(note.Note.Words, 300) ?? "")}\": {Tells(note)}.",
                $"  {(note.TimeNs is { } time ? Phrases.Clock(time) : "--:--:--")}  ", markTone: note.Outcome == NoteOutcome.NothingHeard ? Tone.Bad : Tone.Plain);
        if (notes.Notes.Count > MostNotes)
            paper.Paragraph($"{Phrases.Number(notes.Notes.Count - MostNotes)} more: 'meshtrace records --only note' gives all.", tone: Tone.Quiet);
        if (Shift(notes) is { } shift)
            paper.Paragraph(shift, tone: Tone.Quiet);
    }

    public static string Where(PlacedNote note) => SafeText.Strip(note.Note.Where, 100) is { Length: > 0 } where ? where : "somewhere";

    /// <summary>What the capture tells of the moment, without final stop.</summary>
    public static string Tells(PlacedNote note) => note.Outcome switch
    {
        NoteOutcome.Heard => note.Press is { } press ? $"press {Phrases.Number(press + 1)} was heard" : "the node was heard then, but no press",
        NoteOutcome.NothingHeard => note.NumbersUnheard == 0 ? "nothing was heard of it, and it used no sequence number: it sent nothing" : "nothing was heard of it then",
        NoteOutcome.OutsideCapture => "the capture does not cover that time",
        _ => "a remark",
    };

    /// <summary>By how much the clock of the notes was corrected, or null.</summary>
    public static string? Shift(FieldNotes notes) => notes.ShiftNs == 0 ? null
        : $"{Phrases.Duration(Math.Abs(notes.ShiftNs / 1e6))} were {(notes.ShiftNs > 0 ? "added to" : "taken from")} the times of the notes: their clock was off, or told another time zone.";
}
