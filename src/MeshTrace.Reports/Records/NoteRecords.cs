using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Notes;

namespace MeshTrace.Reports.Records;

/// <summary><c>note</c> records: one note from the field a line.</summary>
internal static class NoteRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        PlacedNote note = history.Notes.Notes[row];
        line.Begin("note"u8, row);
        line.Time("time"u8, note.TimeNs);
        line.Word("where"u8, note.Note.Where);
        line.Address("node"u8, note.Node);
        line.Word("words"u8, note.Note.Words);
        line.Word("outcome"u8, note.Outcome switch
        {
            NoteOutcome.OutsideCapture => "outside-capture",
            NoteOutcome.Heard => "heard",
            NoteOutcome.NothingHeard => "nothing-heard",
            _ => "remark",
        });
        line.Number("press"u8, note.Press + 1);
        line.Number("numbersUnheard"u8, note.NumbersUnheard);
        line.Number("shiftMs"u8, history.Notes.ShiftNs / 1_000_000);
        line.End();
    }
}
