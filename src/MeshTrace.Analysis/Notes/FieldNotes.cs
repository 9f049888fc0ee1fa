namespace MeshTrace.Analysis.Notes;

/// <summary>Notes from the field, placed on the timeline of the capture.</summary>
/// <param name="Notes">In the order of the file.</param>
/// <param name="ShiftNs">What was added to all their times: the clock of the notes was off, or told another time zone. 0 where nothing speaks for it.</param>
public sealed record FieldNotes(IReadOnlyList<PlacedNote> Notes, long ShiftNs)
{
    public static readonly FieldNotes None = new([], 0);
}
