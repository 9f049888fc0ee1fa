using MeshTrace.Analysis.Notes;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Words;

/// <summary>Notes from the field, with what the capture tells of their moment.</summary>
public sealed class NoteSectionTests
{
    private readonly Story _story = new();

    [Fact]
    public void EachNote_HasItsWords_AndWhatWasHeardThen()
    {
        _story.History.Notes = new FieldNotes(
        [
            Note(1, "stairs panel", "pressed, nothing happened", NoteOutcome.NothingHeard, numbers: 0), Note(60, "stairs panel", "pressed again", NoteOutcome.Heard, press: 2),
            Note(61, "stairs panel", "a look", NoteOutcome.Remark), Note(62, "the gate", "pressed", NoteOutcome.OutsideCapture),
        ], 3_600 * Story.Second);
        string account = string.Join(' ', _story.Explain().Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains("Notes from the field: 4", account, StringComparison.Ordinal);
        Assert.Contains("18:00:01 stairs panel, \"pressed, nothing happened\": nothing was heard of it, and it used no sequence number: it sent nothing.", account, StringComparison.Ordinal);
        Assert.Contains("18:01:00 stairs panel, \"pressed again\": press 3 was heard.", account, StringComparison.Ordinal);
        Assert.Contains("\"pressed\": the capture does not cover that time.", account, StringComparison.Ordinal);
        Assert.Contains("1 h were added to the times of the notes", account, StringComparison.Ordinal);
    }

    [Fact]
    public void ControlCharactersOfTheFile_DoNotReachTheTerminal()
    {
        _story.History.Notes = new FieldNotes([Note(1, "panel\e[31m", "pre\assed\e]0;x\a", NoteOutcome.Remark)], 0);
        Assert.DoesNotContain('\e', _story.Explain());
        Assert.DoesNotContain('\a', _story.Explain());
    }

    private static PlacedNote Note(int second, string where, string words, NoteOutcome outcome, int? press = null, int? numbers = null) =>
        new() { Note = new FieldNote(2, new NoteTime(Story.Begin + (second * Story.Second), false, Story.Second), where, words), TimeNs = Story.Begin + (second * Story.Second), Outcome = outcome, Press = press, NumbersUnheard = numbers };
}
