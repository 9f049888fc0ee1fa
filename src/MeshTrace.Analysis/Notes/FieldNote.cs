namespace MeshTrace.Analysis.Notes;

/// <summary>A remark that somebody wrote down on site.</summary>
/// <param name="Line">Line of the file, from 1.</param>
/// <param name="Time">When, as written.</param>
/// <param name="Where">Node or place as written, made safe to show.</param>
/// <param name="Words">What, made safe to show.</param>
public sealed record FieldNote(int Line, NoteTime Time, string Where, string Words)
{
    /// <summary>True for a press: the words say so, or there are none.</summary>
    public bool IsPress => Words.Length == 0 || Words.Contains("press", StringComparison.OrdinalIgnoreCase);
}

/// <summary>A time as people write it: with its date, or of the capture's day.</summary>
/// <param name="Ns">Nanoseconds since 1970-01-01 UTC, or since midnight.</param>
/// <param name="OfDay">True for a time of day without its date.</param>
/// <param name="PrecisionNs">What it leaves open: a minute where no seconds are written, a second where no fraction is.</param>
public readonly record struct NoteTime(long Ns, bool OfDay, long PrecisionNs);
