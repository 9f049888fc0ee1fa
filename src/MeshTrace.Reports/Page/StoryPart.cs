using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Notes;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>Who joined and how each was set up, connections, messages that do not fit, and the notes from the field.</summary>
internal static class StoryPart
{
    private const int MostNotes = 200;

    public static void Write(PageDraft draft)
    {
        draft.Words(StorySection.Write, "Nothing was heard of nodes that join, are set up or change.");
        if (draft.History.Connections.Count > 0)
        {
            draft.Heading("Connections");
            draft.Words(ConnectionSection.Write, "");
        }
        var unfit = new Prose(draft.Markup);
        unfit.Heading("");      // the part has its own
        UnfitSection.Write(unfit, draft.Account);
        unfit.End();
        if (draft.History.Notes.Notes.Count > 0)
            WriteNotes(draft, draft.History.Notes);
    }

    private static void WriteNotes(PageDraft draft, FieldNotes notes)
    {
        draft.Heading("Notes from the field");
        using (var grid = new Grid(draft.Markup, "Notes, placed on the time of the capture (UTC)", "Time", "Where", "Words", "What the capture tells"))
        {
            foreach (PlacedNote note in notes.Notes.Take(MostNotes))
                grid.Row(note.TimeNs is { } time ? Phrases.Clock(time) : "-", SafeText.Strip(note.Note.Where, 100), SafeText.Strip(note.Note.Words, 300), Outcome(note));
        }
        draft.LeftOut(notes.Notes.Count - MostNotes, "notes", "'meshtrace records --only note' gives all");
        if (notes.ShiftNs != 0)
            draft.SaysQuietly($"{Phrases.Duration(Math.Abs(notes.ShiftNs / 1e6))} were {(notes.ShiftNs > 0 ? "added to" : "taken from")} the times of the notes: their clock was off, or told another time zone.");
    }

    private static string Outcome(PlacedNote note) => note.Outcome switch
    {
        NoteOutcome.Heard => note.Press is { } press ? $"press {Phrases.Number(press + 1)} was heard" : "the node was heard then",
        NoteOutcome.NothingHeard => note.NumbersUnheard == 0 ? "nothing was heard of it, and it used no sequence number: it sent nothing" : "nothing was heard of it then",
        NoteOutcome.OutsideCapture => "the capture does not cover that time",
        _ => "a remark",
    };
}
