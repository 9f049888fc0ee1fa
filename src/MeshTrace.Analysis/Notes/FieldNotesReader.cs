using System.Globalization;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Notes;

/// <summary>
/// Reads notes from the field: comma-separated text with the header <c>time,node,words</c>. A node is a name or an address; a time is
/// ISO 8601 (without an offset: in the capture's clock, UTC) or <c>HH:MM</c>, <c>HH:MM:SS</c> of the capture's day.
/// </summary>
public static class FieldNotesReader
{
    /// <summary>Longest file, in characters.</summary>
    public const int LongestFile = 4 * 1024 * 1024;

    /// <summary>Most notes of a file.</summary>
    public const int MostNotes = 100_000;

    private const int LongestWords = 400;
    private const long NsPerSecond = 1_000_000_000, NsPerTick = 100;

    private static readonly string[] TimesOfDay = ["H':'mm", "H':'mm':'ss", "H':'mm':'ss.FFFFFFF"];
    private static readonly string[] Moments =
    [
        "yyyy-MM-dd'T'HH':'mmK", "yyyy-MM-dd'T'HH':'mm':'ssK", "yyyy-MM-dd'T'HH':'mm':'ss.FFFFFFFK",
        "yyyy-MM-dd' 'HH':'mmK", "yyyy-MM-dd' 'HH':'mm':'ssK", "yyyy-MM-dd' 'HH':'mm':'ss.FFFFFFFK",
    ];

    /// <exception cref="FieldNotesException">The text has another form.</exception>
    public static IReadOnlyList<FieldNote> Read(string text, string file)
    {
        string shown = SafeText.Strip(file);
        if (text.Length > LongestFile)
            throw new FieldNotesException(shown, 1, string.Create(CultureInfo.InvariantCulture, $"the file has {text.Length} characters, at most {LongestFile} are read"));
        var notes = new List<FieldNote>();
        int time = -1, node = -1, words = -1;
        foreach ((int line, List<string> fields) in CsvLines.Read(text.TrimStart('\uFEFF'), shown))
        {
            if (time < 0)
            {
                (time, node, words) = (Column(fields, "time"), Column(fields, "node"), Column(fields, "words"));
                if (time < 0 || node < 0 || words < 0)
                    throw new FieldNotesException(shown, line, "the first line must be the header time,node,words, with commas between");
                continue;
            }
            if (notes.Count == MostNotes)
                throw new FieldNotesException(shown, line, string.Create(CultureInfo.InvariantCulture, $"more than {MostNotes} notes"));
            if (fields.Count <= Math.Max(time, Math.Max(node, words)))
                throw new FieldNotesException(shown, line, "the line has fewer columns than the header: time,node,words are needed");
            if (!TryReadTime(fields[time], out NoteTime at))
                throw new FieldNotesException(shown, line, $"\"{SafeText.Strip(fields[time], 40)}\" is no time: 2026-03-02T18:05:00Z, 18:05 or 18:05:30 is expected");
            notes.Add(new FieldNote(line, at, SafeText.Strip(fields[node]), SafeText.Strip(fields[words], LongestWords)));
        }
        return time >= 0 ? notes : throw new FieldNotesException(shown, 1, "the file is empty; the header time,node,words is expected");
    }

    private static int Column(List<string> header, string name) => header.FindIndex(field => field.Equals(name, StringComparison.OrdinalIgnoreCase));

    /// <summary>Reads a time as people write it: 2026-03-02T18:05:00Z, 18:05 or 18:05:30, with decimals of a second where they want.</summary>
    public static bool TryReadTime(string text, out NoteTime time)
    {
        time = default;
        long precision = text.Contains('.', StringComparison.Ordinal) ? 0 : text.Count(c => c == ':') - ColonsOfOffset(text) >= 2 ? NsPerSecond : 60 * NsPerSecond;
        if (TimeOnly.TryParseExact(text, TimesOfDay, CultureInfo.InvariantCulture, DateTimeStyles.None, out TimeOnly ofDay))
        {
            time = new NoteTime(ofDay.Ticks * NsPerTick, true, precision);
            return true;
        }
        if (!DateTimeOffset.TryParseExact(text, Moments, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out DateTimeOffset moment)
            || moment.Year is < 1970 or > 2200)     // nanoseconds since 1970 in 64 bits end in 2262
            return false;
        time = new NoteTime((moment.UtcTicks - DateTime.UnixEpoch.Ticks) * NsPerTick, false, precision);
        return true;
    }

    /// <summary>1 if an offset with a colon stands at the end, which is no colon of the time.</summary>
    private static int ColonsOfOffset(string text) => text.Length > 6 && text[^6] is '+' or '-' && text[^3] == ':' ? 1 : 0;
}
