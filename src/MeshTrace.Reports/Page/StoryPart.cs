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
                grid.Row(note.TimeNs is { } time ? Phrases.Clock(time) : "-", NoteSection.Where(note), SafeText.Strip(note.Note.Words, 300), NoteSection.Tells(note));
        }
        draft.LeftOut(notes.Notes.Count - MostNotes, "notes", "'meshtrace records --only note' gives all");
        if (NoteSection.Shift(notes) is { } shift)
            draft.SaysQuietly(shift);
    }
}
