namespace MeshTrace.Analysis.Notes;

/// <summary>A file of notes that cannot be read.</summary>
public sealed class FieldNotesException(string file, int line, string says) : Exception($"{file}, line {line}: {says}")
{
    public string File { get; } = file;

    /// <summary>From 1.</summary>
    public int Line { get; } = line;

    /// <summary>What is wrong, without the place.</summary>
    public string Says { get; } = says;
}
